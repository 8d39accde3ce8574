"""Logs cut into pieces: nothing is lost, and no cook is cut in two."""

import gzip
from pathlib import Path

import pytest

from service.fleet.pieces import pieces
from tests.fleet.logs_of_cooks import folder_of_logs, lines_of_cooks


@pytest.mark.parametrize("piece_bytes", [1, 20_000, 10_000_000])
@pytest.mark.parametrize("ending", [".ndjson", ".ndjson.gz"])
def test_pieces_are_the_log_again_and_end_after_outcomes(tmp_path: Path, piece_bytes: int, ending: str) -> None:
    lines = lines_of_cooks(3, "old")
    log = tmp_path / f"cooks{ending}"
    text = b"".join(lines)
    log.write_bytes(gzip.compress(text) if ending.endswith("gz") else text)
    found = list(pieces([log], piece_bytes))
    assert [line for piece in found for line in piece.lines] == lines
    assert all(b'"outcome"' in piece.lines[-1] for piece in found if piece.lines)
    assert sum(piece.read_bytes for piece in found) == log.stat().st_size
    for piece in found:
        at = piece.first_line - 1
        assert lines[at : at + len(piece.lines)] == list(piece.lines)
    assert len([piece for piece in found if piece.lines]) == {1: 3, 20_000: 2, 10_000_000: 1}[piece_bytes]


def test_a_log_without_an_outcome_is_one_piece(tmp_path: Path) -> None:
    log = tmp_path / "cook.ndjson"
    log.write_bytes(b'{"program": "popcorn"}\n{"as_of": 2}')
    (piece,) = pieces([log], 1)
    assert piece.lines == (b'{"program": "popcorn"}\n', b'{"as_of": 2}')


def test_several_logs_come_one_after_the_other(tmp_path: Path) -> None:
    logs = folder_of_logs(tmp_path, 1)
    assert [piece.log for piece in pieces(logs) if piece.lines] == [str(log) for log in logs]
