"""`cookstop demonstrate` shows a whole cook, and leaves nothing running."""

import json
import re
from importlib.resources import files

import pytest
import requests


@pytest.fixture(scope="module")
def shown(cookstop):
    return cookstop("demonstrate", "--speed", "1000")


def test_cook_is_stopped_inside_the_good_window(shown):
    assert shown.returncode == 0, shown.stderr
    assert "inside that window" in shown.stdout


def test_it_says_that_the_cook_is_invented(shown):
    assert shown.stdout.startswith("An invented cook")


def test_it_fits_a_screen_or_two(shown):
    lines = shown.stdout.splitlines()
    assert 20 < len(lines) < 60
    assert max(map(len, lines)) <= 120


def test_it_ends_with_the_cautions(shown):
    assert "With every bag:" in shown.stdout
    assert "unattended" in shown.stdout


def test_a_meal_is_stopped_inside_its_window_too(cookstop):
    shown = cookstop("demonstrate", "--cook", "reheat", "--speed", "1000")
    assert shown.returncode == 0, shown.stderr
    assert shown.stdout.startswith("An invented cook: a simulated meal")
    assert "inside that window" in shown.stdout
    assert "With every meal:" in shown.stdout
    assert "stand covered for two minutes" in shown.stdout


def test_service_is_gone_afterwards(shown):
    url = re.search(r"http://127\.0\.0\.1:\d+", shown.stdout).group()
    with pytest.raises(requests.ConnectionError):
        requests.get(f"{url}/livez", timeout=5)


def test_start_that_fails_is_told(cookstop):
    told = cookstop("demonstrate", COOKSTOP_MAX_BODY_BYTES="none")
    assert told.returncode == 1
    assert "COOKSTOP_MAX_BODY_BYTES" in told.stderr


def test_truth_is_marked_as_invented_and_covered_by_the_log():
    folder = files("service.demonstration")
    truth = json.loads((folder / "popcorn-truth.json").read_bytes())
    posts = [json.loads(line) for line in (folder / "popcorn.ndjson").read_bytes().splitlines()]
    assert truth["invented"] is True
    assert posts[0]["program"] == "popcorn"
    assert truth["bag_opened_s"] < truth["stop_window_s"][0] < truth["stop_window_s"][1] < posts[-1]["as_of"]
