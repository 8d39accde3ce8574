"""Logs cut into pieces that can be worked on apart: whole cooks, about as many bytes in each.

A piece ends after the line of an outcome, where no cook is going on. A log without any is one piece. Of a log that cannot be
read to its end (a file that was cut off) what came before counts.
"""

import gzip
import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

PIECE_BYTES = 200_000
_OUTCOME = b'"outcome"'


class UnreadableLog(Exception):
    """A log that cannot be read to its end; the text says which, and why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A part of a log.

    Attributes:
        log: the name of the file.
        first_line: number of its first line in that file.
        lines: its lines.
        read_bytes: bytes of files, compressed as they are, read since the piece before.
    """

    log: str
    first_line: int
    lines: tuple[bytes, ...]
    read_bytes: int


def pieces(
    logs: Iterable[Path], piece_bytes: int = PIECE_BYTES, unreadable: Callable[[UnreadableLog], None] | None = None
) -> Iterator[Piece]:
    """The pieces of all logs, one after the other. Raises UnreadableLog, unless `unreadable` hears of it."""
    for log in logs:
        try:
            yield from _pieces_of(log, piece_bytes)
        except UnreadableLog as error:
            if unreadable is None:
                raise
            unreadable(error)


def _pieces_of(log: Path, piece_bytes: int) -> Iterator[Piece]:
    held: list[bytes] = []
    first_line, size, told_bytes = 1, 0, 0
    try:
        with open(log, "rb") as file:
            for line in gzip.GzipFile(fileobj=file) if log.name.endswith(".gz") else file:
                held.append(line)
                size += len(line)
                if size >= piece_bytes and _OUTCOME in line:
                    at_bytes = file.tell()
                    yield _piece(log, first_line, held, at_bytes - told_bytes)
                    first_line, size, told_bytes = first_line + len(held), 0, at_bytes
                    held = []
            yield _piece(log, first_line, held, file.tell() - told_bytes)
    except (OSError, EOFError, zlib.error) as error:
        yield _piece(log, first_line, held, 0)
        raise UnreadableLog(f"{log}: cannot be read beyond line {first_line + len(held) - 1}: {error}") from error


def _piece(log: Path, first_line: int, lines: list[bytes], read_bytes: int) -> Piece:
    return Piece(log=str(log), first_line=first_line, lines=tuple(lines), read_bytes=read_bytes)
