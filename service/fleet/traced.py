"""The cooks of a piece of a log, each looked at for what it shows of its oven: what a worker does."""

from dataclasses import dataclass

from service.calibration.trace import CookTrace, cook_trace
from service.fleet.audited import cooks_in
from service.fleet.pieces import Piece
from service.programs.programme import shipped
from service.web.cook_logs import WrongLine

PROGRAMME = "popcorn"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PieceTraced:
    """What came of a piece: what its cooks show, and its wrong lines as (log, line, why)."""

    traces: tuple[CookTrace, ...]
    wrong: tuple[tuple[str, int, str], ...]
    read_bytes: int


def trace_piece(piece: Piece) -> PieceTraced:
    """Look at the cooks of a piece; a line that is wrong is told, and so is a cook of another programme than popcorn."""
    traces, wrong = [], []
    for one in cooks_in(piece):
        if isinstance(one, WrongLine):
            wrong.append((piece.log, one.line, one.refused.detail))
        elif one.programme is not shipped()[PROGRAMME]:
            says = f"profiles are fitted from cooks of {PROGRAMME!r}; this is one of {one.programme.name!r}"
            wrong.append((piece.log, one.line, says))
        else:
            traces.append(cook_trace(one.finished, one.programme))
    return PieceTraced(traces=tuple(traces), wrong=tuple(wrong), read_bytes=piece.read_bytes)
