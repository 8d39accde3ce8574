"""Logs as files."""

import gzip
from collections.abc import Iterable, Iterator
from pathlib import Path

LOGS = (".ndjson", ".ndjson.gz")
RECORD = ".decisions.ndjson"


def lines_of(log: Path) -> Iterator[bytes]:
    """The lines of a log, compressed or not. Raises OSError, EOFError or zlib.error for one that cannot be read."""
    with gzip.open(log) if log.name.endswith(".gz") else open(log, "rb") as file:
        yield from file


def logs_under(paths: Iterable[Path]) -> list[Path]:
    """The files among these paths, and every log in the folders among them, in order, each once; no records."""
    found: dict[Path, None] = {}
    for path in paths:
        inside = filter(_is_log, sorted(path.rglob("*"))) if path.is_dir() else [path]
        found |= {file: None for file in inside if not file.name.endswith(RECORD)}
    return list(found)


def record_beside(log: Path) -> Path:
    """Where the decisions on a log are kept."""
    return log.with_name(log.name.removesuffix(".gz").removesuffix(".ndjson") + RECORD)


def _is_log(file: Path) -> bool:
    return file.is_file() and file.name.endswith(LOGS)
