"""Whatever cooks are given: a profile comes of them, and it is one that a decision takes."""

from dataclasses import fields
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from schemas.calibration import profile_of
from schemas.setup import OvenSchema
from service.calibration.calibrate import calibrate
from service.calibration.trace import cook_trace
from service.outcomes.finished import FinishedCook
from service.outcomes.outcome import Outcome
from service.readings.cook import Cook
from service.readings.setup import OvenProfile, Setup
from tests.cooks import POPCORN, drawn_pops_s, steaming_rows
from tests.laws.cooks import cooks

said = st.none() | st.floats(5.0, 3000.0)
setups = st.builds(Setup, rated_w=st.none() | st.floats(100.0, 3000.0), load_g=said)
outcomes = st.builds(
    lambda stopped_s, good_stop_s: Outcome(
        stopped_s=stopped_s, stopped_by=None if stopped_s is None else "person", good_stop_s=good_stop_s
    ),
    st.none() | st.floats(0.0, 7200.0),
    st.none() | st.floats(0.0, 7200.0),
)


@st.composite
def bags(draw: Any) -> Cook:
    """A bag that pops and steams somewhere, and some readings of anything."""
    peak_s, spread_s = draw(st.floats(5.0, 800.0)), draw(st.floats(0.5, 60.0))
    pops_s = drawn_pops_s(draw(st.integers(0, 900)), peak_s, spread_s, seed=draw(st.integers(0, 9)))
    released_s, until_s = draw(st.floats(1.0, 500.0)), draw(st.floats(5.0, 600.0))
    humidity = steaming_rows(until_s, released_s=released_s, lag_s=draw(st.floats(0.2, 20.0)))
    power = draw(st.lists(st.tuples(st.floats(0.0, 700.0), st.sampled_from([0.0, 0.001, 0.5, 1.0])), max_size=8))
    whole = Cook.of(pops_s=np.minimum(pops_s, 7200.0), humidity=humidity, power=power)
    return whole.merged(draw(cooks)) if draw(st.booleans()) else whole


@settings(max_examples=20, deadline=None)
@given(st.lists(st.builds(FinishedCook, setup=setups, cook=bags() | cooks, outcome=outcomes), max_size=4))
def test_any_cooks_make_a_profile_that_is_finite_and_taken(finished: list[FinishedCook]) -> None:
    found = calibrate([cook_trace(one, POPCORN) for one in finished], POPCORN)
    document = profile_of(found, "popcorn")
    taken = OvenSchema().taken({name: value for name, value in document.items() if name != "about"})
    for field in fields(OvenProfile):
        value = getattr(taken, field.name)
        if value is not None:
            assert value.low <= value.value <= value.high
            assert 1 <= value.cooks <= len(finished)
    named = {name for name in document if name != "about"} | {one.value for one in found.refusals}
    assert named == {field.name for field in fields(OvenProfile)}
