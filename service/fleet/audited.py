"""The cooks of a piece of a log, each audited by itself: what a worker does."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

from service.audit.audit import AuditedCook, audit_cook
from service.fleet.pieces import Piece
from service.programs.programme import shipped
from service.web.conversation import Conversation
from service.web.cook_logs import CookRead, WrongLine, cooks_of
from service.web.settings import SHORTEST_KEY, Settings
from service.web.tokens import Tokens

_MOST_LINES = 10**12


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
    for one in cooks_of(piece.lines, _conversation(), _settings()):
        yield replace(one, line=piece.first_line + one.line - 1)


@cache
def _settings() -> Settings:
    return Settings(max_lines=_MOST_LINES)


@cache
def _conversation() -> Conversation:
    # Nothing is signed or opened here: cooks of a log carry no state.
    tokens = Tokens((bytes(SHORTEST_KEY),), purpose="cook state", longest=_settings().max_state_characters)
    return Conversation(tokens, shipped(), _settings())
