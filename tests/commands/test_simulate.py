"""Logs of invented cooks from the command line."""

import gzip
import json


def test_a_file_for_each_oven_says_in_its_name_and_in_itself_that_it_is_invented(cookstop, tmp_path):
    folder = tmp_path / "shelf"
    told = cookstop(
        "simulate", "--kind", "regular", "--kind", "deaf", "--ovens", "2", "--cooks", "1", "--gzip", str(folder)
    )
    assert told.returncode == 0, told.stderr
    assert "4 invented cooks in 4 files" in told.stdout
    files = sorted(folder.iterdir())
    assert [file.name for file in files] == [
        f"invented-{kind}-person-{seed}.ndjson.gz" for kind in ("deaf", "regular") for seed in (1, 2)
    ]
    *_, last = gzip.decompress(files[0].read_bytes()).splitlines()
    assert json.loads(last)["outcome"]["note"].startswith(
        "Invented, nothing of it was recorded: the microphone is dead"
    )


def test_an_unknown_kind_is_told_with_all_that_there_are(cookstop, tmp_path):
    told = cookstop("simulate", "--kind", "burnt", str(tmp_path / "none"))
    assert told.returncode == 2
    assert "weak-oven" in told.stderr
    assert not (tmp_path / "none").exists()
