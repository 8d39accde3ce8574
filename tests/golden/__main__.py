"""Draw the golden logs anew: `python -m tests.golden`, then `cookstop compare --record tests/golden`.

Every cook is simulated, and so invented.
"""

import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from tests.simulation import simulate
from tests.simulation.reheats import simulate_reheat

FOLDER = Path(__file__).parent
EVERY_S = 2
BAGS = (
    ("regular", 101, False),
    ("snack", 102, True),
    ("duty-cycle", 103, False),
    ("mic-dies", 104, False),
    ("humidity-dead", 105, False),
    ("paused", 106, False),
    ("noisy", 107, True),
)
MEALS = (("plate", 201), ("frozen-start", 203))


def main() -> None:
    """Write the logs."""
    for kind, seed, network in BAGS:
        posts = simulate(kind, seed, network=network).log
        # Over a bad network it matters which post holds what, and when it came.
        _write(kind, posts if network else list(_thinned(posts)))
    for kind, seed in MEALS:
        _write(f"reheat-{kind}", list(_thinned(simulate_reheat(kind, seed, network=False).log)))
    _write("heated-again", list(_heated_again(list(_thinned(simulate("regular", 108, network=False).log)))))


def _thinned(posts: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    for at in range(0, len(posts), EVERY_S):
        group = posts[at : at + EVERY_S]
        readings: dict[str, list[Any]] = {}
        for post in group:
            for kind, values in post["readings"].items():
                readings.setdefault(kind, []).extend(values)
        yield {**group[0], "as_of": group[-1]["as_of"], "readings": readings}


def _heated_again(posts: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """The same, and when all is over somebody starts the oven again for a while, and hears nothing."""
    yield from posts
    start_s = posts[-1]["as_of"] + 4.0
    yield {"as_of": start_s, "readings": {"restarts": [start_s], "power": [{"t": start_s, "level": 1.0}]}}
    for second in range(2, 24, EVERY_S):
        yield {"as_of": start_s + second, "readings": {}}


def _write(name: str, posts: Iterable[dict[str, Any]]) -> None:
    lines = [json.dumps(post, separators=(",", ":")) + "\n" for post in posts]
    (FOLDER / f"{name}.ndjson").write_text("".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
