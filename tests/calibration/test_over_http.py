"""Logs in, a profile out: over HTTP and by the command, the same; and the decision takes it as it stands."""

import json
from functools import cache
from typing import Any

import pytest
from flask.testing import FlaskClient

from schemas.calibration import SAYS
from schemas.setup import OvenSchema
from tests.calibration.labelled import bags_of, ended_by_hand, log_of
from tests.web.clients import client_with

NDJSON = "application/x-ndjson"
COOKS = 4


@cache
def log() -> bytes:
    return b"".join(log_of(ended_by_hand(bag, 0.0)) for bag in bags_of("turned-away", 3, COOKS))


@cache
def asker() -> FlaskClient:
    return client_with()


def calibrated(body: bytes) -> dict[str, Any]:
    response = asker().post("/v1/calibrations", data=body, content_type=NDJSON)
    assert response.status_code == 200, response.data
    document: dict[str, Any] = response.json
    return document


def refused(body: bytes, **settings: int) -> dict[str, Any]:
    response = client_with(**settings).post("/v1/calibrations", data=body, content_type=NDJSON)
    assert response.mimetype == "application/problem+json"
    document: dict[str, Any] = response.json
    assert document["status"] == response.status_code
    return document


def test_every_value_has_an_interval_and_the_number_of_cooks_behind_it() -> None:
    profile = calibrated(log())
    assert set(profile) == {*SAYS, "about"}
    for name in SAYS:
        assert profile[name]["low"] <= profile[name]["value"] <= profile[name]["high"]
        assert profile[name]["cooks"] == COOKS


def test_what_there_is_to_say_is_said_in_sentences() -> None:
    about = calibrated(log())["about"]
    assert (about["program"], about["cooks"], about["interval_pct"], about["refused"]) == ("popcorn", COOKS, 95.0, [])
    assert len(about["says"]) == len(SAYS) + 1
    assert all(says[0].isupper() and says.endswith(".") for says in about["says"])
    assert about["goodness"]["cooks"] == COOKS


def test_cooks_of_several_ovens_are_named_as_a_mistake() -> None:
    def ended(oven: str | None) -> bytes:
        said = {"outcome": {} if oven is None else {"oven": oven}}
        return b'{"program": "popcorn"}\n' + json.dumps(said).encode() + b"\n"

    assert calibrated(ended("a") + ended("a") + ended(None))["about"]["says"] == []
    about = calibrated(b"".join(ended(f"oven {place}") for place in range(7)))["about"]
    assert about["ovens"] == [f"oven {place}" for place in range(7)]
    assert about["says"][0].startswith("These cooks are of 7 ovens (oven 0, oven 1, oven 2, oven 3, oven 4, ...)")


def test_a_decision_takes_the_profile_as_it_stands_and_acts_on_it() -> None:
    """The bags of an oven whose sensor is turned away: the delay that was fitted dates the onset earlier."""
    profile = calibrated(log())
    post = json.loads(log().splitlines()[0])
    onset_s = []
    for oven in ({}, {"oven": profile}):
        body = {**post, "as_of": 150, "setup": post["setup"] | oven}
        answer = asker().post("/v1/decisions", json=body)
        assert answer.status_code == 200, answer.data
        onset_s.append(answer.json["evidence"]["moisture"]["onset_s"])
    delay_s = profile["sensor_delay_s"]["value"]
    assert onset_s[1] - onset_s[0] == pytest.approx(2.2 - delay_s, abs=0.01)


def test_the_same_logs_give_the_same_bytes() -> None:
    answers = {asker().post("/v1/calibrations", data=log(), content_type=NDJSON).data for _ in range(2)}
    assert len(answers) == 1


def test_what_the_cooks_do_not_support_is_left_out_and_named_with_what_is_missing() -> None:
    two = b"".join(log().splitlines(keepends=True)[:4])
    profile = calibrated(two)
    assert set(profile) == {"dead_time_s", "about"}
    needs = {one["value"]: one["needs"] for one in profile["about"]["refused"]}
    assert set(needs) == set(SAYS) - {"dead_time_s"}
    assert all("there are 2" in said for said in needs.values())
    assert OvenSchema().taken(profile).dead_time_s is not None


@pytest.mark.parametrize(
    ("body", "slug", "says"),
    [
        (b"", "wrong-input", "at least one cook"),
        (b'{"program": "popcorn"}\n{"as_of": NaN}\n{"outcome": {}}\n', "wrong-input", "line 2: "),
        (b'{"program": "popcorn"}\n{\n', "not-json", "line 2: "),
        (b'{"outcome": {}}\n', "wrong-input", "line 1: "),
        (b'{"program": "popcorn"}\n{"outcome": {"kernels_left": -1}}\n', "wrong-input", "/outcome/kernels_left"),
        (b'{"program": "reheat"}\n{"outcome": {}}\n', "wrong-input", "a programme that listens"),
        (
            b'{"program": "popcorn"}\n{"outcome": {}}\n{"program": "reheat"}\n{"outcome": {}}\n',
            "wrong-input",
            "line 3 on: expected 'popcorn'",
        ),
    ],
)
def test_a_body_with_anything_wrong_is_refused_as_a_whole(body: bytes, slug: str, says: str) -> None:
    problem = refused(body)
    assert problem["type"] == f"/problems/{slug}"
    assert says in problem["detail"]


def test_too_many_cooks_and_too_many_lines_are_refused() -> None:
    empty = b'{"program": "popcorn"}\n{"outcome": {}}\n' * 3
    assert refused(empty, max_cooks=2)["type"] == "/problems/too-many-cooks"
    assert refused(empty, max_lines=5)["type"] == "/problems/too-many-lines"


def test_another_media_type_is_refused() -> None:
    response = asker().post("/v1/calibrations", data=log(), content_type="application/json")
    assert response.status_code == 415


def test_cooks_that_show_nothing_make_a_profile_that_says_nothing() -> None:
    profile = calibrated(b'{"program": "popcorn"}\n{"outcome": {}}\n' * 5)
    assert set(profile) == {"about"}
    assert {one["value"] for one in profile["about"]["refused"]} == set(SAYS)


def test_what_is_said_about_a_profile_is_passed_over_by_a_decision_and_must_be_an_object() -> None:
    body = {"program": "popcorn", "setup": {"oven": {"sensor_delay_s": 4, "about": {"anything": [1]}}}}
    answer = asker().post("/v1/decisions", json=body)
    assert answer.status_code == 200
    without = {"program": "popcorn", "setup": {"oven": {"sensor_delay_s": 4}}}
    assert asker().post("/v1/decisions", json=without).json["state"] == answer.json["state"]
    body["setup"] = {"oven": {"about": "anything"}}
    assert asker().post("/v1/decisions", json=body).json["errors"][0]["pointer"] == "/setup/oven/about"
