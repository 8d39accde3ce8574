"""`cookstop key` makes a key, prints it once, and keeps its hash alone."""

import hashlib
import json
import stat
from datetime import UTC, datetime, timedelta

import pytest
import requests

from tests.commands.running import DEADLINE_S, serving

DECIDE = ["key", "--name", "hub-1", "--scope", "decide"]


def test_key_is_printed_and_its_hash_added(cookstop, tmp_path):
    file = tmp_path / "keys.ndjson"
    told = cookstop(*DECIDE, "--scope", "replay", "--scope", "decide", "--days", "30", "--file", str(file))
    assert told.returncode == 0, told.stderr
    secret = told.stdout.strip()
    assert json.loads(file.read_text()) == {
        "name": "hub-1",
        "sha256": hashlib.sha256(secret.encode()).hexdigest(),
        "expires": (datetime.now(UTC).date() + timedelta(days=30)).isoformat(),
        "scopes": ["decide", "replay"],
    }
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


@pytest.mark.parametrize("before", ["", "# ours\n", "# ours"])
def test_line_is_added_after_what_is_there(cookstop, tmp_path, before):
    file = tmp_path / "keys.ndjson"
    file.write_text(before)
    cookstop(*DECIDE, COOKSTOP_KEYS_FILE=str(file))
    cookstop(*DECIDE, COOKSTOP_KEYS_FILE=str(file))
    lines = [line for line in file.read_text().splitlines() if not line.startswith("#")]
    assert [json.loads(line)["name"] for line in lines] == ["hub-1", "hub-1"]
    assert file.read_text().startswith(before)


def test_without_a_file_the_line_is_shown_beside_the_key(cookstop):
    told = cookstop(*DECIDE)
    assert told.returncode == 0
    assert told.stdout.strip() not in told.stderr
    assert hashlib.sha256(told.stdout.strip().encode()).hexdigest() in told.stderr


@pytest.mark.parametrize(
    "wrong", [["--scope", "everything"], ["--days", "0"], ["--days", "99999"], ["--file", "/nowhere/keys"]]
)
def test_wrong_use_makes_no_key(cookstop, wrong):
    told = cookstop(*DECIDE, *wrong)
    assert told.returncode != 0
    assert told.stdout == ""
    assert "Traceback" not in told.stderr


def test_key_opens_a_service_that_runs_already(cookstop, tmp_path):
    file = tmp_path / "keys.ndjson"
    file.touch()
    with serving(workers=2, COOKSTOP_KEYS_FILE=str(file)) as service:
        url, least = f"{service.url}/v1/decisions", {"program": "popcorn"}
        assert requests.post(url, json=least, timeout=DEADLINE_S).status_code == 401
        secret = cookstop(*DECIDE, "--file", str(file)).stdout.strip()
        headers = {"Authorization": f"Bearer {secret}"}
        answers = [requests.post(url, json=least, headers=headers, timeout=DEADLINE_S) for _ in range(6)]
        assert [answer.status_code for answer in answers] == [200] * 6
        assert secret not in service.said()
