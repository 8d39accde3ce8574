"""Cooks to post while servers come and go, and what an undisturbed server says to them."""

import json
from collections.abc import Iterator, Sequence
from functools import cache
from importlib.resources import files

from tests.deploy.client import Client
from tests.deploy.processes import serving
from tests.simulation.network import Post
from tests.simulation.popcorn_kinds import KINDS
from tests.simulation.simulator import simulate

# A cook is posted every so many seconds here, so that many cooks fit into a short test.
POST_EVERY_S = 10
FIRST_SEED = 11


@cache
def logs(count: int) -> tuple[tuple[Post, ...], ...]:
    """The demonstration and simulated cooks of every kind in turn, half of them over a bad link, all thinned."""
    demonstration = (files("service.demonstration") / "popcorn.ndjson").read_text(encoding="utf-8").splitlines()
    full: list[list[Post]] = [[json.loads(line) for line in demonstration]]
    kinds = list(KINDS)
    full += [simulate(kinds[at % len(kinds)], FIRST_SEED + at, network=at % 2 == 1).log for at in range(count - 1)]
    return tuple(tuple(thinned(log)) for log in full)


def thinned(log: Sequence[Post]) -> Iterator[Post]:
    """The same readings in fewer posts."""
    for begin in range(0, len(log), POST_EVERY_S):
        part = log[begin : begin + POST_EVERY_S]
        readings: dict[str, list[object]] = {}
        for post in part:
            for field, values in post.get("readings", {}).items():
                readings.setdefault(field, []).extend(values)
        yield {**part[0], "as_of": part[-1]["as_of"], "readings": readings}


@cache
def undisturbed(count: int) -> tuple[tuple[bytes, ...], ...]:
    """What one server, left in peace, answers to each post of each of these cooks."""
    with serving(workers=1) as server, Client(server.port) as client:
        return tuple(tuple(client.cook(log)) for log in logs(count))
