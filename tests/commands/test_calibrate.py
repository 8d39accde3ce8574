"""The command that fits the profile of an oven to its logs."""

import gzip
import json

import pytest
from click.testing import CliRunner, Result

from service.cli import main
from tests.calibration.labelled import bags_of, ended_by_hand, log_of
from tests.web.clients import client_with


@pytest.fixture(scope="module")
def logs():
    return [log_of(ended_by_hand(bag, 0.0)) for bag in bags_of("laggy", 3, 4)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory, logs):
    """Two cooks in one file, one by itself, one compressed."""
    place = tmp_path_factory.mktemp("oven")
    (place / "a.ndjson").write_bytes(logs[0] + logs[1])
    (place / "b.ndjson").write_bytes(logs[2])
    (place / "c.ndjson.gz").write_bytes(gzip.compress(logs[3]))
    return place


def test_files_give_the_profile_that_the_service_gives_and_tell_it_in_words(cookstop, folder, logs, tmp_path):
    told = cookstop("calibrate", "--jobs", "1", "--output", str(tmp_path / "oven.json"), str(folder))
    assert told.returncode == 0, told.stderr
    served = client_with().post("/v1/calibrations", data=b"".join(logs), content_type="application/x-ndjson").json
    profile = json.loads((tmp_path / "oven.json").read_text())
    assert profile == served
    assert all(says in told.stderr for says in profile["about"]["says"])


def calibrated_here(folder) -> Result:
    """The command in this process, which starts no other for it."""
    return CliRunner().invoke(main, ["calibrate", "--jobs", "1", str(folder)])


def test_wrong_lines_and_missing_values_are_told_and_fail(tmp_path):
    (tmp_path / "a.ndjson").write_bytes(b'{"program": "popcorn"}\n{"as_of": -1}\n{"outcome": {}}\n')
    told = calibrated_here(tmp_path)
    assert told.exit_code == 1
    assert "a.ndjson, line 2: " in told.stderr
    assert "No steam_ratio: it needs 3 cooks" in told.stderr
    assert json.loads(told.stdout)["about"]["cooks"] == 1


def test_cooks_of_another_programme_are_told(tmp_path):
    (tmp_path / "a.ndjson").write_bytes(b'{"program": "reheat"}\n{"outcome": {}}\n')
    told = calibrated_here(tmp_path)
    assert told.exit_code == 1
    assert "a.ndjson, line 1: profiles are fitted from cooks of 'popcorn'" in told.stderr
