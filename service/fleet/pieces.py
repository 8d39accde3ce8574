"""Logs cut into pieces that can be worked on apart: whole cooks, about as many bytes in each.

A piece ends after the line of an outcome, where no cook is going on. A log without any is one piece.
"""

import gzip
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

PIECE_BYTES = 200_000
_OUTCOME = b'"outcome"'


class UnreadableLog(Exception):
    """A log that cannot be read; the text says which, and why."""


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


def pieces(logs: Iterable[Path], piece_bytes: int = PIECE_BYTES) -> Iterator[Piece]:
    """The pieces of all logs, one after the other. Raises UnreadableLog."""
    for log in logs:
        try:
            yield from _pieces_of(log, piece_bytes)
        except (OSError, EOFError, zlib.error) as error:
            raise UnreadableLog(f"{log}: cannot be read: {error}") from error


def _pieces_of(log: Path, piece_bytes: int) -> Iterator[Piece]:
    with open(log, "rb") as file:
        text = gzip.GzipFile(fileobj=file) if log.name.endswith(".gz") else file
        held: list[bytes] = []
        first_line, size, told_bytes = 1, 0, 0
        for line in text:
            held.append(line)
            size += len(line)
            if size >= piece_bytes and _OUTCOME in line:
                at_bytes = file.tell()
                yield _piece(log, first_line, held, at_bytes - told_bytes)
                first_line, size, told_bytes = first_line + len(held), 0, at_bytes
                held = []
        yield _piece(log, first_line, held, file.tell() - told_bytes)


def _piece(log: Path, first_line: int, lines: list[bytes], read_bytes: int) -> Piece:
    return Piece(log=str(log), first_line=first_line, lines=tuple(lines), read_bytes=read_bytes)
