"""The posts of a piece of a log, each decided again: what a worker does."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from service.fleet.decision_rows import Row, row_of
from service.fleet.pieces import Piece
from service.fleet.settings import log_conversation, log_settings, taken_lines
from service.web.log_replay import LogReplay

Tell = Callable[[str, Mapping[str, Any]], str | None]
"""Makes the text that is told of an answer, from the name of its log and the answer; None where nothing is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceReplayed:
    """What came of a piece.

    Attributes:
        log, first_line: which piece it was.
        told: what is told of its lines, as lines of one text.
        rows: a row for each decision and each wrong line, where rows are wanted.
        wrong: its wrong lines as (line, why).
        read_bytes: bytes of files read for it.
    """

    log: str
    first_line: int
    told: str
    rows: tuple[Row, ...]
    wrong: tuple[tuple[int, str], ...]
    read_bytes: int


def replay_piece(piece: Piece, *, tell: Tell, with_rows: bool = False) -> PieceReplayed:
    """Answer each line of a piece that is not blank; what comes after a wrong one goes on from the last good one."""
    log = LogReplay(log_conversation(), log_settings())
    told, rows, wrong = [], [], []
    for number, line in enumerate(taken_lines(piece.lines), start=piece.first_line):
        if line is not None and not line.strip():
            continue
        answer, is_taken = log.answer(line, number)
        if not is_taken:
            wrong.append((number, str(answer["detail"])))
        text = tell(piece.log, answer)
        if text is not None:
            told.append(f"{text}\n")
        if with_rows and (row := row_of(piece.log, number, answer)) is not None:
            rows.append(row)
    return PieceReplayed(
        log=piece.log,
        first_line=piece.first_line,
        told="".join(told),
        rows=tuple(rows),
        wrong=tuple(wrong),
        read_bytes=piece.read_bytes,
    )
