"""The cooks of a piece of a log, each audited by itself: what a worker does."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from service.audit.audit import AuditedCook, audit_cook
from service.fleet.pieces import Piece
from service.fleet.settings import log_conversation, log_settings, taken_lines
from service.web.cook_logs import CookRead, WrongLine, cooks_of


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CookInLog:
    """An audited cook, and where it stands: the file, and the number of its first line."""

    log: str
    line: int
    audited: AuditedCook


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PieceAudited:
    """What came of a piece: its cooks, and its wrong lines as (log, line, why)."""

    cooks: tuple[CookInLog, ...]
    wrong: tuple[tuple[str, int, str], ...]
    read_bytes: int


def audit_piece(piece: Piece) -> PieceAudited:
    """Audit the cooks of a piece; a line that is wrong is told, and its cook goes on without it."""
    cooks, wrong = [], []
    for one in cooks_in(piece):
        if isinstance(one, WrongLine):
            wrong.append((piece.log, one.line, one.refused.detail))
        else:
            cooks.append(CookInLog(log=piece.log, line=one.line, audited=audit_cook(one.finished, one.programme)))
    return PieceAudited(cooks=tuple(cooks), wrong=tuple(wrong), read_bytes=piece.read_bytes)


def cooks_in(piece: Piece) -> Iterator[CookRead | WrongLine]:
    """The cooks of a piece and its wrong lines, numbered as in the log."""
    for one in cooks_of(taken_lines(piece.lines), log_conversation(), log_settings()):
        yield replace(one, line=piece.first_line + one.line - 1)
