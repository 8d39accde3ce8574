"""Two ways to the same: what is quick, and what can say what is wrong."""

import json

from hypothesis import given, settings
from hypothesis import strategies as st
from marshmallow import ValidationError

from schemas.answer import AnswerSchema, answer_of
from schemas.request import DecisionRequestSchema
from service.programs.programme import shipped
from service.readings.settled import Settled
from service.rules.decision import Decision, Reason, Remaining
from service.web.json_text import written
from tests.web.test_hostile_bodies import POSTS, TAKEN

REQUESTS = DecisionRequestSchema()
NUMBERS = st.floats(allow_nan=True) | st.integers(-(10**6), 10**6)
PLAIN = st.recursive(
    NUMBERS | st.text(max_size=5) | st.none(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)
FACTS = st.dictionaries(st.sampled_from(["status", "onset_s", "rate_per_s", "rise", "kernels_left"]), PLAIN, max_size=5)
DECISIONS = st.builds(
    Decision,
    decision=st.sampled_from(["continue", "warn", "stop"]),
    as_of_s=st.floats(0, 7200),
    remaining=st.none() | st.builds(Remaining, estimate_s=NUMBERS, low_s=NUMBERS, high_s=NUMBERS, interval_pct=NUMBERS),
    stop_by_s=NUMBERS,
    post_again_in_s=NUMBERS,
    reasons=st.lists(
        st.builds(
            Reason,
            rule=st.text(max_size=5),
            says=st.text(max_size=5),
            value=st.none() | NUMBERS,
            limit=st.none() | NUMBERS,
            unit=st.none() | st.just("s"),
        ),
        max_size=3,
    ).map(tuple),
    evidence=st.fixed_dictionaries(dict.fromkeys(("acoustic", "moisture", "heating"), FACTS)),
    cautions=st.just(shipped()["popcorn"].cautions),
    settled=st.just(Settled(as_of_ms=0, stop_ms=None, stop_rule=None, nudge_ms=None)),
)


def outcome(load, post):
    """What comes of loading a post, in a form that can be compared."""
    try:
        request = load(post)
    except ValidationError as error:
        return error.messages
    cook = [column.tolist() for column in (request.cook.pops_ms, request.cook.humidity_ms, request.cook.power_ms,
            request.cook.restarts_ms, request.cook.humidity_permille, request.cook.air_decidegrees)]  # fmt: skip
    said = (request.program, request.setup, request.readings, request.as_of_ms, request.interval_pct, request.state)
    return cook, said


@given(post=POSTS | TAKEN)
@settings(max_examples=200, deadline=None)
def test_quick_way_to_load_a_post_comes_to_what_the_schema_says(post):
    assert outcome(REQUESTS.taken, post) == outcome(REQUESTS.load, post)


@given(decision=DECISIONS)
@settings(max_examples=120, deadline=None)
def test_quick_way_to_write_an_answer_comes_to_what_the_schema_says(decision):
    told = answer_of(decision)
    assert told == AnswerSchema().dump(decision)
    assert list(told) == list(AnswerSchema().dump(decision))
    json.loads(written(told), parse_constant=lambda name: (_ for _ in ()).throw(AssertionError(name)))
