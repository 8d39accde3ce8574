"""`cookstop replay` plays a log again, here or on a server, and tells which lines are wrong."""

import gzip
import json
import socket

import pytest
from pyarrow.parquet import read_table

from tests.commands.running import COOK

LINES = COOK.read_text().splitlines()


def decisions(told):
    return [json.loads(line) for line in told.stdout.splitlines()]


@pytest.fixture(scope="module")
def played(cookstop):
    return cookstop("replay", "--format", "ndjson", str(COOK))


@pytest.fixture
def log(tmp_path):
    def write(*lines):
        file = tmp_path / "log.ndjson"
        file.write_text("".join(line + "\n" for line in lines))
        return str(file)

    return write


def test_each_line_gets_its_decision_without_the_state(played):
    answers = decisions(played)
    assert played.returncode == 0
    assert [answer["as_of"] for answer in answers] == [json.loads(line)["as_of"] for line in LINES]
    assert all("state" not in answer and "decision" in answer for answer in answers)
    assert answers[-1]["decision"] == "stop"


def test_server_decides_as_this_process_does(cookstop, server, played):
    told = cookstop("replay", "--server", server, "--format", "ndjson", str(COOK))
    assert told.returncode == 0
    assert told.stdout == played.stdout


@pytest.mark.parametrize("asks", ["here", "server"])
def test_a_row_a_decision_is_written_as_parquet(cookstop, server, played, log, tmp_path, asks):
    file = tmp_path / "decisions.parquet"
    where = ["--server", server] if asks == "server" else []
    wrong = log(*LINES, '{"outcome": {}}', "{")
    told = cookstop("replay", *where, "--parquet", str(file), wrong)
    assert told.returncode == 1
    rows = read_table(file).to_pylist()
    assert [row["line"] for row in rows] == [*range(1, len(LINES) + 1), len(LINES) + 2]
    assert rows[-1]["decision"] is None
    assert rows[-1]["problem"] in told.stderr
    for row, answer in zip(rows, decisions(played), strict=False):
        assert (row["log"], row["problem"]) == (wrong, None)
        assert (row["as_of_s"], row["decision"]) == (answer["as_of"], answer["decision"])
        assert row["rule"] == answer["reasons"][0]["rule"]
        assert row["remaining_high_s"] == (answer["remaining"] or {}).get("high_s")
        assert row["onset_s"] == answer["evidence"]["moisture"]["onset_s"]
        assert row["kernels_left"] == (answer["evidence"]["acoustic"]["kernels_left"] or {}).get("estimate")


def test_compressed_log_is_the_same(cookstop, tmp_path, played):
    file = tmp_path / "cook.ndjson.gz"
    file.write_bytes(gzip.compress(COOK.read_bytes(), mtime=0))
    assert cookstop("replay", "--format", "ndjson", str(file)).stdout == played.stdout


def test_output_goes_to_a_file(cookstop, tmp_path, played):
    file = tmp_path / "decisions.ndjson"
    told = cookstop("replay", "--format", "ndjson", "--output", str(file), str(COOK))
    assert (told.returncode, told.stdout) == (0, "")
    assert file.read_text() == played.stdout


def test_table_has_a_row_a_line(cookstop, log):
    told = cookstop("replay", log(*LINES[:5]))
    rows = told.stdout.splitlines()
    assert rows[0].split()[0] == "time"
    assert [row.split()[0] for row in rows[1:]] == ["1", "2", "3", "4", "5"]


def test_several_logs_are_several_cooks_however_they_are_named(cookstop, tmp_path):
    for name in ("a", "b"):
        (tmp_path / f"{name}.ndjson").write_text("".join(line + "\n" for line in LINES[:3]))
    for paths in ([tmp_path / "a.ndjson", tmp_path / "b.ndjson"], [tmp_path], [tmp_path / "*.ndjson"]):
        told = cookstop("replay", "--format", "ndjson", *map(str, paths))
        answers = decisions(told)
        assert told.returncode == 0
        assert [answer["as_of"] for answer in answers] == [1.0, 2.0, 3.0, 1.0, 2.0, 3.0]
        assert [answer["log"] for answer in answers] == [str(tmp_path / f"{name}.ndjson") for name in "aaabbb"]


def test_several_processes_tell_what_one_does(cookstop, played):
    told = cookstop("replay", "--jobs", "2", "--format", "ndjson", str(COOK))
    assert (told.returncode, told.stdout) == (0, played.stdout)


def test_a_log_that_is_not_there_is_told(cookstop, tmp_path):
    told = cookstop("replay", str(tmp_path / "*.ndjson"))
    assert told.returncode == 2
    assert "there is no" in told.stderr


def test_wrong_line_is_told_by_number_and_nothing_after_it_is_lost(cookstop, log):
    told = cookstop("replay", "--format", "ndjson", log(*LINES[:3], '{"as_of": 1}', *LINES[3:5]))
    answers = decisions(told)
    assert told.returncode == 1
    assert "line 4: /as_of" in told.stderr
    assert answers[3]["line"] == 4
    assert answers[3]["type"] == "/problems/wrong-input"
    assert [answer["as_of"] for answer in answers[:3] + answers[4:]] == [1.0, 2.0, 3.0, 4.0, 5.0]


def test_blank_lines_are_passed_over_and_counted(cookstop, log):
    told = cookstop("replay", "--format", "ndjson", log(LINES[0], "", LINES[1], "{"))
    assert len(decisions(told)) == 3
    assert "line 4: " in told.stderr


def test_many_wrong_lines_are_counted_rather_than_listed(cookstop, log):
    told = cookstop("replay", log(*["{"] * 50))
    assert told.returncode == 1
    assert "40 more wrong lines" in told.stderr
    assert len(told.stderr.splitlines()) == 12


def test_server_that_is_not_there_fails(cookstop, log):
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    told = cookstop("replay", "--server", f"http://127.0.0.1:{port}", log(*LINES[:3]))
    assert told.returncode == 1
    assert "no answer" in told.stderr
    assert "Traceback" not in told.stderr


def test_server_that_is_another_one_fails(cookstop, server, log):
    told = cookstop("replay", "--server", f"{server}/elsewhere", log(*LINES[:3]))
    assert told.returncode == 1
    assert "Traceback" not in told.stderr


@pytest.mark.parametrize("content", [b"no gzip at all", gzip.compress(b'{"program": "popcorn"}\n' * 50, mtime=0)[:30]])
def test_log_that_is_damaged_fails(cookstop, tmp_path, content):
    file = tmp_path / "cook.ndjson.gz"
    file.write_bytes(content)
    told = cookstop("replay", str(file))
    assert told.returncode == 1
    assert "cannot be read" in told.stderr
    assert "Traceback" not in told.stderr
