"""Requests made up from the description of the API, and altered states, in numbers.

`python -m tests.web.fuzz --cases 20000` for the former, `--tokens 10000` for the latter; both are told with the figures.
A few of each run with the tests.
"""

import gc
import json
import math
import random
import string
import time
from collections import Counter
from dataclasses import dataclass, field
from functools import cache
from statistics import median, quantiles
from typing import Any

import click
import schemathesis
from flask.testing import FlaskClient
from hypothesis import HealthCheck, Phase, given, seed, settings
from schemathesis.specs.openapi.checks import negative_data_rejection, positive_data_acceptance

from service.readings.packing import pack, unpack
from service.web.tokens import Tokens
from tests.web.clients import KEY, client_with

POSITIVE, NEGATIVE = schemathesis.GenerationMode.POSITIVE, schemathesis.GenerationMode.NEGATIVE
DECISIONS, REPLAYS = "POST /v1/decisions", "POST /v1/replays"
LOGS = (REPLAYS, "POST /v1/audits", "POST /v1/calibrations")
# How the cases are shared out; what only reads has little to be got wrong.
SHARES = {DECISIONS: 0.68, **dict.fromkeys(LOGS, 0.1)}
TAKEN_STATUSES = frozenset({200, 304, 400, 401, 403, 404, 405, 406, 413, 414, 415, 422, 431})
ALPHABET = string.ascii_letters + string.digits + "-_."


@schemathesis.serializer("application/x-ndjson")
def _as_it_stands(_: Any, value: Any) -> bytes:
    """A log is a text; what is made up in its place is written as JSON."""
    return value if isinstance(value, bytes) else (value if isinstance(value, str) else json.dumps(value)).encode()


@dataclass(slots=True)
class Made:
    """What was made up.

    Attributes:
        statuses: how many answers of each status an operation gave.
        slowest_ms: the slowest answer.
    """

    statuses: dict[str, Counter[int]] = field(default_factory=dict)
    slowest_ms: float = 0.0

    @property
    def cases(self) -> int:
        """All of them."""
        return sum(count.total() for count in self.statuses.values())


def made_up(cases: int, part: int = 0) -> Made:
    """Ask what the description lets one ask, and what it does not; each answer is held against the description.

    Each part asks something else. Several small ones cost less than one that is as large as they are together.
    """
    operations = _operations()
    others = len(operations) - len(SHARES)
    made = Made()
    for operation in operations:
        share = SHARES.get(operation.label, (1.0 - sum(SHARES.values())) / others)
        modes = (POSITIVE, NEGATIVE) if operation.label in SHARES else (POSITIVE,)
        for mode in modes:
            _ask(operation, mode, math.ceil(cases * share / len(modes)), part, made)
    return made


@cache
def _operations() -> list[Any]:
    """What the description says can be asked."""
    app = client_with(log_level="error").application
    return [result.ok() for result in schemathesis.openapi.from_wsgi("/openapi.json", app).get_all_operations()]


def _ask(operation: Any, mode: Any, cases: int, part: int, made: Made) -> None:
    count = made.statuses.setdefault(operation.label, Counter())

    @seed(part)
    @settings(max_examples=cases, deadline=None, database=None, phases=(Phase.generate,),
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(case=operation.as_strategy(generation_mode=mode))
    def ask(case: Any) -> None:
        if mode is POSITIVE and isinstance(case.body, dict):
            # A state that is made up is never a good one.
            case.body = {"program": "popcorn"} | {name: part for name, part in case.body.items() if name != "state"}
        response = case.call()
        took_ms = float(response.headers["server-timing"][0].rpartition("dur=")[2])
        made.slowest_ms = max(made.slowest_ms, took_ms)
        count[response.status_code] += 1
        assert response.status_code in TAKEN_STATUSES, (case.as_curl_command(), response.content)
        if response.headers.get("content-type", [""])[0] == "application/problem+json":
            assert len(response.json().get("errors", [])) <= 20
        case.validate_response(response, excluded_checks=_excused(case, response.status_code))

    ask()


def _excused(case: Any, status: int) -> list[Any]:
    """Checks that would be wrong.

    No description can say which states are good; a post in JSON has no use for a query; 413 is a refusal too; and the
    wrong lines of a log are told inside the answer.
    """
    may_be_taken = case.query or status == 413 or case.operation.label in LOGS
    return [positive_data_acceptance, *([negative_data_rejection] if may_be_taken else [])]


@dataclass(slots=True)
class Altered:
    """What became of altered states: how many there were, and how long each refusal took."""

    statuses: Counter[int]
    took_ms: list[float]

    def told(self) -> str:
        """In a line."""
        return (
            f"{self.statuses.total()} altered states: {dict(self.statuses)};"
            f" median {median(self.took_ms):.2f} ms, 99 in 100 under {quantiles(self.took_ms, n=100)[98]:.2f} ms,"
            f" slowest {max(self.took_ms):.2f} ms"
        )


def altered(count: int, seed: int = 1) -> Altered:
    """Post so many altered states. Every answer is to be a 422, but for a change that leaves the state what it was."""
    rng = random.Random(seed)  # noqa: S311 (alters tests)
    client = client_with(log_level="error")
    states = _states(client)
    made = Altered(Counter(), [])
    # As the service does before its workers part.
    gc.collect()
    gc.freeze()
    while made.statuses.total() < count:
        state = rng.choice(states)
        spoilt = _spoilt(state, rng)
        if spoilt == state:
            continue
        begun_s = time.perf_counter()
        response = client.post("/v1/decisions", json={"state": spoilt})
        made.took_ms.append((time.perf_counter() - begun_s) * 1e3)
        made.statuses[response.status_code] += 1
        assert response.status_code == 422, spoilt
        assert response.json["errors"][0]["pointer"] == "/state"
    return made


def _states(client: FlaskClient) -> list[str]:
    """States of cooks of several sizes."""
    found = []
    for pops in (0, 1, 40, 400, 2000):
        times = [round(60.0 + at * 60.0 / max(pops, 1), 3) for at in range(pops)]
        post = {"program": "popcorn", "as_of": 125, "readings": {"pops": times}}
        found.append(client.post("/v1/decisions", json=post).json["state"])
    return found


def _spoilt(state: str, rng: random.Random) -> str:
    """A state altered in one of many ways."""
    at, length = rng.randrange(len(state)), rng.randint(1, 12)
    payload, _, signature = state.partition(".")
    ways = (
        lambda: state[:at] + rng.choice(ALPHABET) + state[at + 1 :],
        lambda: state[:at] + state[at + length :],
        lambda: state[:at] + "".join(rng.choices(ALPHABET, k=length)) + state[at:],
        lambda: state[:at] + chr(rng.randrange(32, 0x3000)) + state[at + 1 :],
        lambda: state[: at or 1],
        lambda: state[at:] + state[:at],
        lambda: state + "".join(rng.choices(ALPHABET, k=length)),
        lambda: payload + "." + "".join(rng.choices(ALPHABET[:-1], k=43)),
        lambda: payload[::-1] + "." + signature,
        lambda: _sealed_anew(state, rng),
        lambda: Tokens([rng.randbytes(32)], purpose="cook state", longest=10**6).seal(rng.randbytes(at)),
    )
    return rng.choice(ways)()


def _sealed_anew(state: str, rng: random.Random) -> str:
    """The very cook, packed again, under another key."""
    content = unpack(Tokens([KEY], purpose="cook state", longest=10**6).open(state), limit=10**6)
    return Tokens([rng.randbytes(32)], purpose="cook state", longest=10**6).seal(pack(content))


@click.command()
@click.option("--cases", default=21_000, help="Requests to make up; 0 for none.")
@click.option("--tokens", default=10_000, help="States to alter; 0 for none.")
def main(cases: int, tokens: int) -> None:
    """Make up requests and alter states, and tell what came of it: minutes."""
    if cases:
        begun_s = time.perf_counter()
        made = made_up(cases)
        click.echo(f"{made.cases} requests in {time.perf_counter() - begun_s:.0f} s, slowest {made.slowest_ms:.0f} ms")
        for operation, count in made.statuses.items():
            click.echo(f"  {operation}: {dict(sorted(count.items()))}")
    if tokens:
        click.echo(altered(tokens).told())


if __name__ == "__main__":
    main()
