"""An audit that leaves behind who did it."""

import os
from pathlib import Path
from time import monotonic

from service.fleet.audited import PieceAudited, audit_piece
from service.fleet.pieces import Piece


def audit_piece_and_tell(given: tuple[Piece, str]) -> PieceAudited:
    """Audit a piece, and leave in a folder who did it."""
    piece, folder = given
    (Path(folder) / f"{os.getpid()}-{monotonic()}").touch()
    return audit_piece(piece)
