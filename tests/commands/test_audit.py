"""Logs of finished cooks audited from the command line."""

import json
import re
from pathlib import Path

import pytest
from pyarrow.parquet import read_table

from tests.fleet.logs_of_cooks import cook, folder_of_logs


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with two logs of two cooks each."""
    folder = tmp_path_factory.mktemp("shelf")
    folder_of_logs(folder, 2)
    return folder


def test_a_folder_is_audited_in_words(cookstop, shelf):
    told = cookstop("audit", str(shelf))
    assert told.returncode == 0, told.stderr
    assert "4 cooks" in told.stdout
    assert "oven old" in told.stdout
    assert "oven old: kernels left 29.5 (23.1 to 35.9); stopped after 122 s" in told.stdout
    assert "Unpopped: old has as much as new" in told.stdout
    assert "What the control follows cannot be said: it takes 4 cooks" in told.stdout
    assert "our own stop: in 4 cooks" in told.stdout


def test_one_cook_is_told_without_intervals_of_means(cookstop, tmp_path):
    log = tmp_path / "one.ndjson"
    log.write_bytes(b"".join(cook(126.5, kernels_left=25, grams_before=85.0, grams_after=78.2, volume_cm3=2720)))
    told = cookstop("audit", str(log))
    assert told.returncode == 0, told.stderr
    assert "all: expansion 32 cm³/g; mass lost 8 %; kernels left 25; stopped after 126 s\n" in told.stdout
    (ours,) = (line for line in told.stdout.splitlines() if "our own stop" in line)
    assert re.fullmatch(
        r"  our own stop: in 1 cook, \d+\.\d s (later|earlier); \d+\.0 pops a cook were heard after it", ours
    )


def test_a_pattern_is_audited_as_json_and_wrong_lines_are_told(cookstop, shelf, tmp_path):
    (tmp_path / "a.ndjson").write_bytes(
        (shelf / "old-oven.ndjson").read_bytes() + b'{"outcome": {"kernels_left": -1}}\n'
    )
    told = cookstop("audit", "--format", "json", str(tmp_path / "*.ndjson"))
    assert told.returncode == 1
    assert json.loads(told.stdout)["cooks"] == 2
    lines = len((tmp_path / "a.ndjson").read_bytes().splitlines())
    assert f"a.ndjson, line {lines}: /outcome/kernels_left: expected a number from 0" in told.stderr
    assert told.stderr.endswith("Error: 1 wrong line\n")


def test_nothing_to_audit_is_told(cookstop, tmp_path):
    told = cookstop("audit", str(tmp_path))
    assert told.returncode == 1
    assert "there is no log in it" in told.stderr


def test_a_row_a_cook_is_written_as_parquet(cookstop, shelf, tmp_path):
    file = tmp_path / "cooks.parquet"
    told = cookstop("audit", "--parquet", str(file), str(shelf))
    assert told.returncode == 0, told.stderr
    rows = read_table(file).to_pylist()
    assert [row["oven"] for row in rows] == ["new", "new", "old", "old"]
    assert [row["kernels_left"] for row in rows] == [30, 29, 30, 29]
    assert rows[0]["unpopped_share"] == pytest.approx(30 / 397, abs=5e-5)
    assert rows[0]["stopped_s"] == 118.0
    assert rows[0]["first_silence_stop_s"] is not None
