"""A log as the lines that the C program reads: `python3 lines.py < cook.ndjson | COOKSTOP_CLOCK=input ./cookstop URL`."""

import json
import sys
from collections.abc import Iterator
from typing import Any


def lines(post: dict[str, Any]) -> Iterator[tuple[float, str]]:
    """Each reading of a post with its time (s)."""
    for t_s in post["readings"].get("pops", ()):
        yield t_s, "pop"
    for one in post["readings"].get("humidity", ()):
        yield one["t"], f"humidity {one['rh_pct']} {one.get('air_c', '')}"
    for one in post["readings"].get("power", ()):
        yield one["t"], f"power {one['level']}"


for text in sys.stdin:
    said = json.loads(text)
    for moment_s, line in sorted(lines(said)):
        print(f"at {moment_s}\n{line}")
    print(f"at {said['as_of']}")
