"""Logs of a few finished cooks: the invented cook that comes with the service, ended at one moment or another."""

import gzip
import json
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

COOK = [json.loads(line) for line in (files("service.demonstration") / "popcorn.ndjson").read_bytes().splitlines()]
STOPS_S = (118.0, 126.5, 131.0, 140.0)


def cook(stopped_s: float, **found: Any) -> Iterator[bytes]:
    """The lines of the cook until it was stopped, and what was found."""
    for post in COOK:
        if post["as_of"] <= stopped_s:
            yield json.dumps(post).encode() + b"\n"
    outcome = {"stopped_s": stopped_s, "stopped_by": "oven", "kernels_total": 397, **found}
    yield json.dumps({"outcome": outcome}).encode() + b"\n"


def lines_of_cooks(count: int, oven: str) -> list[bytes]:
    """A log of so many cooks in one oven."""
    return [
        line
        for place in range(count)
        for line in cook(STOPS_S[place % len(STOPS_S)], oven=oven, trial=place, kernels_left=30 - place)
    ]


def folder_of_logs(folder: Path, cooks: int) -> list[Path]:
    """Two logs in a folder, one of them compressed."""
    plain, pressed = folder / "old-oven.ndjson", folder / "new-oven.ndjson.gz"
    plain.write_bytes(b"".join(lines_of_cooks(cooks, "old")))
    pressed.write_bytes(gzip.compress(b"".join(lines_of_cooks(cooks, "new")), mtime=0))
    return [plain, pressed]
