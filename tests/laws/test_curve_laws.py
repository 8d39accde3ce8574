"""A curve of straight pieces, held against NumPy's interpolation at any moment, one by one and all at once."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.readings.curve import Curve

TIMES_S = st.integers(0, 7_200_000).map(lambda ms: ms / 1000.0)
KNOTS_S = st.lists(TIMES_S, min_size=2, max_size=12, unique=True).map(sorted)


@given(KNOTS_S, st.data())
def test_a_curve_is_straight_between_its_knots_and_level_beyond_them(knots_s: list[float], data: st.DataObject) -> None:
    values = data.draw(st.lists(st.floats(-1e4, 1e4), min_size=len(knots_s), max_size=len(knots_s)))
    asked_s = data.draw(st.lists(TIMES_S | st.sampled_from(knots_s), min_size=1, max_size=20))
    curve = Curve.of(knots_s, values)
    expected = np.interp(asked_s, knots_s, values)
    assert [curve.at(t_s) for t_s in asked_s] == pytest.approx(expected.tolist(), rel=1e-9, abs=1e-7)
    assert curve.at_all(np.array(asked_s)).tolist() == expected.tolist()
    assert [curve.at(knot_s) for knot_s in knots_s] == values


@given(TIMES_S, st.floats(0.0, 100.0), st.floats(0.0, 100.0))
def test_a_curve_may_leap_at_a_moment_and_holds_what_comes_after_it(t_s: float, before: float, after: float) -> None:
    curve = Curve.of([t_s, t_s, t_s + 10.0], [before, after, after])
    assert curve.at(t_s - 0.001) == before
    assert curve.at(t_s) == curve.at(t_s + 5.0) == after
