"""The posts of a piece of a log, each decided again: what a worker does."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from schemas.answer import answer_of
from service.fleet.decision_rows import Row, row_of
from service.fleet.pieces import Piece
from service.fleet.settings import log_conversation, log_settings, taken_lines
from service.rules.decision import Decision
from service.web.log_replay import LogReplay

Tell = Callable[[str, Decision | Mapping[str, Any]], str | None]
"""Makes the text that is told of a line, None where nothing is: from the name of its log and the decision, or the answer."""


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


def document_of(found: Decision | Mapping[str, Any]) -> Mapping[str, Any]:
    """The answer to a line, whether it is a decision or something else that was found."""
    return answer_of(found) if isinstance(found, Decision) else found


def replay_piece(piece: Piece, *, tell: Tell, with_rows: bool = False) -> PieceReplayed:
    """Answer each line of a piece that is not blank; what comes after a wrong one goes on from the last good one."""
    log = LogReplay(log_conversation(), log_settings())
    told, rows, wrong = [], [], []
    for number, line in enumerate(taken_lines(piece.lines), start=piece.first_line):
        if line is not None and not line.strip():
            continue
        found, is_taken = log.found(line, number)
        text = tell(piece.log, found)
        if text is not None:
            told.append(f"{text}\n")
        if not is_taken:
            wrong.append((number, str(document_of(found)["detail"])))
        if with_rows and (row := row_of(piece.log, number, document_of(found))) is not None:
            rows.append(row)
    return PieceReplayed(
        log=piece.log,
        first_line=piece.first_line,
        told="".join(told),
        rows=tuple(rows),
        wrong=tuple(wrong),
        read_bytes=piece.read_bytes,
    )
