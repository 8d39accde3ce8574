"""Where the command and its cook are, and how long to wait for it."""

import os
from importlib.resources import files
from pathlib import Path

ROOT = Path(__file__).parents[2]
COOK = Path(str(files("service.demonstration"))) / "popcorn.ndjson"
DEADLINE_S = 60


def environment(**more: str) -> dict[str, str]:
    """The environment in which the command finds the code under test."""
    return {**os.environ, "PYTHONPATH": str(ROOT), **more}
