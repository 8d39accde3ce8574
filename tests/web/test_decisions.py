"""What a well-behaved client sees."""

import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.web.clients import client_with, whole

FIELDS = [
    "decision",
    "as_of",
    "remaining",
    "stop_by_s",
    "post_again_in_s",
    "reasons",
    "evidence",
    "cautions",
    "state",
]


def test_answer_has_every_field_in_a_fixed_order(post):
    answer = post(program="popcorn", as_of=95, readings={"pops": [88.1, 90.4, 91.0]})
    assert answer.status_code == 200
    assert answer.content_type == "application/json"
    assert list(answer.json) == FIELDS
    assert list(answer.json["evidence"]) == ["acoustic", "moisture", "heating"]


def test_decisions_are_not_to_be_stored(post):
    assert post(program="popcorn").headers["Cache-Control"] == "no-store"


def test_least_post_names_a_programme_and_is_about_the_start(post):
    answer = post(program="popcorn").json
    assert answer["as_of"] == 0.0
    assert answer["decision"] in ("continue", "warn")
    assert answer["stop_by_s"] > 0


def test_moment_is_the_newest_reading_unless_said(post):
    readings = {"pops": [30.5], "humidity": [{"t": 31.25, "rh_pct": 40}], "power": [{"t": 2, "level": 1}]}
    assert post(program="popcorn", readings=readings).json["as_of"] == 31.25


def test_moment_is_never_before_the_last_decision_unless_said(post):
    first = post(program="popcorn", as_of=40).json
    later = post(state=first["state"], readings={"pops": [35.0]}).json
    assert later["as_of"] == 40.0


def test_readings_later_than_the_moment_count_once_it_reaches_them(post):
    early = post(program="popcorn", as_of=20, readings={"pops": [10.0, 30.0]}).json
    assert early["evidence"]["acoustic"]["pops"] == 1
    later = post(state=early["state"], as_of=30).json
    assert later["evidence"]["acoustic"]["pops"] == 2


def test_state_carries_programme_and_setup(post):
    first = post(program="popcorn", setup={"max_heating_s": 60}, as_of=1).json
    later = post(state=first["state"], as_of=2).json
    assert later["stop_by_s"] <= 60


def test_interval_is_as_wide_as_asked(post, log):
    asked = {
        share: post(program="popcorn", as_of=115, interval_pct=share, readings=whole(log)).json["remaining"]
        for share in (50, 80, 98)
    }
    widths = [told["high_s"] - told["low_s"] for told in asked.values()]
    assert [told["interval_pct"] for told in asked.values()] == [50.0, 80.0, 98.0]
    assert widths == sorted(widths)
    assert widths[0] < widths[-1]


@pytest.mark.parametrize("name", ["as_of", "interval_pct", "program", "setup", "state", "start"])
def test_what_belongs_into_the_body_is_not_passed_over_in_the_query(client, name):
    response = client.post(f"/v1/decisions?trace=1&{name}=90", json={"program": "popcorn"})
    assert response.status_code == 422
    assert response.json["errors"][0]["pointer"] == f"/{name}"


def test_a_query_that_means_nothing_here_changes_nothing(client):
    plain, traced = (client.post(f"/v1/decisions{query}", json={"program": "popcorn"}) for query in ("", "?trace=1"))
    assert traced.data == plain.data


def test_same_request_gives_the_same_bytes(post):
    first = {"program": "popcorn", "as_of": 90, "readings": {"pops": [80.5, 81.0]}}
    state = post(**first).json["state"]
    assert post(**first).data == post(**first).data
    assert post(state=state, as_of=95).data == post(state=state, as_of=95).data


def test_another_process_with_the_same_key_gives_the_same_bytes(post):
    request = {"program": "popcorn", "as_of": 90, "readings": {"pops": [80.5, 81.0]}}
    assert client_with().post("/v1/decisions", json=request).data == post(**request).data


@pytest.mark.parametrize("until", [60, 100, 120, 130])
def test_cook_in_many_posts_is_the_cook_in_one(post, log, until):
    posts = [line for line in log if line["as_of"] <= until]
    state: dict[str, Any] = {}
    for line in posts:
        step = post(**line, **state).json
        state = {"state": step["state"]}
    once = post(program=log[0]["program"], setup=log[0]["setup"], as_of=until, readings=whole(posts)).json
    assert step["evidence"] == once["evidence"]
    assert step["remaining"] == once["remaining"]


@given(seed=st.integers(0, 2**32), batches=st.integers(1, 6))
@settings(max_examples=15, deadline=None)
def test_order_doubling_and_batches_of_readings_do_not_matter(post, log, seed, batches):
    rng = random.Random(seed)  # noqa: S311 (shuffles a test)
    readings = [(kind, reading) for kind, some in whole(log[:110]).items() for reading in some]
    sent = rng.sample(readings, len(readings)) + rng.sample(readings, 20)
    state: dict[str, Any] = {"program": "popcorn"}
    for at in range(batches):
        batch: dict[str, Any] = {}
        for kind, reading in sent[at::batches]:
            batch.setdefault(kind, []).append(reading)
        answer = post(as_of=100 + at * 2, readings=batch, **state).json
        state = {"state": answer["state"]}
    last_s = 100 + (batches - 1) * 2
    once = post(program="popcorn", as_of=last_s, readings=whole(log[:110])).json
    assert answer["evidence"] == once["evidence"]


def test_stop_holds_whatever_comes_after_it(post, log):
    state: dict[str, Any] = {}
    decisions = []
    for line in log:
        answer = post(**line, **state).json
        state = {"state": answer["state"]}
        decisions.append(answer["decision"])
    first = decisions.index("stop")
    assert set(decisions[first:]) == {"stop"}
    assert answer["remaining"]["estimate_s"] == 0.0
