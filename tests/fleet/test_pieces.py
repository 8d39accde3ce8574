"""Logs cut into pieces: nothing is lost, and no cook is cut in two."""

import gzip
from pathlib import Path

import pytest

from service.fleet.pieces import UnreadableLog, pieces
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


def test_of_a_log_that_was_cut_off_what_came_before_counts(tmp_path: Path) -> None:
    lines = lines_of_cooks(2, "old")
    whole = tmp_path / "whole.ndjson"
    whole.write_bytes(b"".join(lines))
    cut = tmp_path / "cut.ndjson.gz"
    pressed = gzip.compress(b"".join(lines))
    cut.write_bytes(pressed[: len(pressed) // 2])
    told: list[UnreadableLog] = []
    found = list(pieces([cut, tmp_path / "none.ndjson", whole], 1, told.append))
    kept = [line for piece in found if piece.log == str(cut) for line in piece.lines]
    assert 0 < len(kept) < len(lines)
    assert kept == lines[: len(kept)]
    assert [line for piece in found if piece.log == str(whole) for line in piece.lines] == lines
    assert str(told[0]).startswith(f"{cut}: cannot be read beyond line {len(kept)}: ")
    assert str(told[1]).startswith(f"{tmp_path / 'none.ndjson'}: cannot be read beyond line 0: ")
    with pytest.raises(UnreadableLog):
        list(pieces([cut], 1))


def test_several_logs_come_one_after_the_other(tmp_path: Path) -> None:
    logs = folder_of_logs(tmp_path, 1)
    assert [piece.log for piece in pieces(logs) if piece.lines] == [str(log) for log in logs]
