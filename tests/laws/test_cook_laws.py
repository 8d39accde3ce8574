"""A cook is a set: nothing but which readings it holds may matter, not when, how often or in which company they came."""

from __future__ import annotations

from functools import reduce
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.readings.cook import EMPTY, LATEST_MS, NO_AIR, Cook
from tests.laws.cooks import Reading, batches, cook_of, cooks

moments_ms = st.integers(-1, LATEST_MS + 1) | st.sampled_from([0, 1, 1000, 1001, 2500])


def columns(cook: Cook) -> dict[str, list[int]]:
    return {name: getattr(cook, name).tolist() for name in Cook.__slots__}


@given(cooks, cooks)
def test_merging_is_commutative(one: Cook, other: Cook) -> None:
    assert columns(one.merged(other)) == columns(other.merged(one))


@given(cooks, cooks, cooks)
def test_merging_is_associative(one: Cook, other: Cook, third: Cook) -> None:
    assert columns(one.merged(other).merged(third)) == columns(one.merged(other.merged(third)))


@given(cooks, cooks)
def test_what_is_merged_twice_changes_nothing(one: Cook, other: Cook) -> None:
    once = one.merged(other)
    assert columns(once.merged(other)) == columns(once)
    assert columns(one.merged(one)) == columns(one)


@given(cooks)
def test_a_post_without_readings_changes_nothing(cook: Cook) -> None:
    assert columns(cook.merged(EMPTY)) == columns(EMPTY.merged(cook)) == columns(cook)


@given(batches, st.data())
def test_order_repetition_and_batching_never_matter(batch: list[Reading], data: st.DataObject) -> None:
    shuffled = data.draw(st.permutations(batch))
    repeated = data.draw(st.lists(st.sampled_from(batch), max_size=10)) if batch else []
    arrivals = shuffled + repeated
    cuts = sorted(data.draw(st.lists(st.integers(0, len(arrivals)), max_size=5)))
    edges = [0, *cuts, len(arrivals)]
    posts = [cook_of(arrivals[begin:end]) for begin, end in pairwise(edges)]
    assert columns(reduce(Cook.merged, posts, EMPTY)) == columns(cook_of(batch))


@given(cooks, cooks)
def test_every_column_is_sorted_without_doubles_and_cannot_be_written_to(one: Cook, other: Cook) -> None:
    merged = one.merged(other)
    for cook in (one, merged, merged.until(1000)):
        for name in Cook.__slots__:
            column = getattr(cook, name)
            assert column.dtype == np.int32
            assert not column.flags.writeable
            if name.endswith("_ms"):
                assert (np.diff(column) > 0).all()


@given(cooks)
def test_rounding_a_second_time_changes_nothing(cook: Cook) -> None:
    air_c = np.where(cook.air_decidegrees == NO_AIR, np.nan, cook.air_decidegrees / 10)
    again = Cook.of(
        pops_s=cook.pops_ms / 1000,
        humidity=np.column_stack((cook.humidity_ms / 1000, cook.humidity_permille / 10, air_c)),
        power=np.column_stack((cook.power_ms / 1000, cook.power_permille / 1000)),
        restarts_s=cook.restarts_ms / 1000,
    )
    assert columns(again) == columns(cook)


@given(cooks, cooks, moments_ms)
def test_cutting_at_a_moment_and_merging_may_change_places(one: Cook, other: Cook, as_of_ms: int) -> None:
    assert columns(one.merged(other).until(as_of_ms)) == columns(one.until(as_of_ms).merged(other.until(as_of_ms)))


@given(cooks, moments_ms, moments_ms)
def test_cutting_twice_is_cutting_at_the_earlier_moment(cook: Cook, first_ms: int, second_ms: int) -> None:
    assert columns(cook.until(first_ms).until(second_ms)) == columns(cook.until(min(first_ms, second_ms)))


@given(cooks, moments_ms)
def test_a_cut_keeps_exactly_what_is_not_later(cook: Cook, as_of_ms: int) -> None:
    cut = cook.until(as_of_ms)
    for name in ("pops_ms", "humidity_ms", "power_ms", "restarts_ms"):
        assert getattr(cut, name).tolist() == [t for t in getattr(cook, name).tolist() if t <= as_of_ms]


@given(cooks)
def test_the_newest_reading_is_the_latest_of_any_kind(cook: Cook) -> None:
    times_ms = [t for name in Cook.__slots__ if name.endswith("_ms") for t in getattr(cook, name).tolist()]
    assert cook.newest_ms() == (max(times_ms) if times_ms else None)


@given(cooks, cooks)
def test_cooks_are_the_same_when_all_their_readings_are(one: Cook, other: Cook) -> None:
    assert one.same_as(other) == (columns(one) == columns(other))
    assert one.same_as(one.merged(one))


@pytest.mark.parametrize(
    ("contradicting", "kept"),
    [
        pytest.param([(5, 40.0, None), (5, 39.0, 25.0)], (390, 250), id="a known air temperature is worth more"),
        pytest.param([(5, 40.0, 30.0), (5, 41.0, 25.0)], (410, 250), id="then the more humid stays"),
        pytest.param([(5, 40.0, 30.0), (5, 40.0, 25.0)], (400, 300), id="then the warmer stays"),
        pytest.param([(5, 40.0, -30.0), (5, 40.0, None)], (400, -300), id="frost is a temperature too"),
        pytest.param([(5, 40.0, None), (5, 41.0, None)], (410, NO_AIR), id="without air the more humid stays"),
        pytest.param([(5.0001, 40.0, None), (4.9999, 41.0, None)], (410, NO_AIR), id="the same millisecond"),
    ],
)
def test_humidity_that_contradicts_itself_resolves_alike_in_any_order(
    contradicting: list[tuple[float, float, float | None]], kept: tuple[int, int]
) -> None:
    first, second = (Cook.of(humidity=[reading]) for reading in contradicting)
    for cook in (first.merged(second), second.merged(first), Cook.of(humidity=contradicting)):
        assert cook.humidity_ms.tolist() == [5000]
        assert (cook.humidity_permille[0], cook.air_decidegrees[0]) == kept


def test_power_that_contradicts_itself_counts_as_the_higher_level() -> None:
    off, on = Cook.of(power=[(5, 0.0)]), Cook.of(power=[(5, 0.6)])
    for cook in (off.merged(on), on.merged(off), Cook.of(power=[(5, 0.0), (5, 0.6), (5, 0.3)])):
        assert columns(cook)["power_permille"] == [600]


@pytest.mark.parametrize("t_s", [-0.001, 7200.001, float("nan"), float("inf"), -float("inf"), 1e300])
def test_a_time_that_cannot_be_is_refused(t_s: float) -> None:
    with pytest.raises(ValueError, match="the time of a pop"):
        Cook.of(pops_s=[1.0, t_s])
    with pytest.raises(ValueError, match="the time of a restart"):
        Cook.of(restarts_s=[1.0, t_s])
    with pytest.raises(ValueError, match="the time of a humidity reading"):
        Cook.of(humidity=[(t_s, 40.0, None)])
    with pytest.raises(ValueError, match="the time of a power reading"):
        Cook.of(power=[(t_s, 1.0)])


@pytest.mark.parametrize(
    ("readings", "message"),
    [
        ({"humidity": [(0, 100.1, None)]}, "relative humidity"),
        ({"humidity": [(0, -0.1, None)]}, "relative humidity"),
        ({"humidity": [(0, float("nan"), None)]}, "relative humidity"),
        ({"humidity": [(0, 40.0, 3300.0)]}, "air temperature"),
        ({"humidity": [(0, 40.0, -3276.8)]}, "air temperature"),
        ({"humidity": [(0, 40.0, 3276.8)]}, "air temperature"),
        ({"humidity": [(0, 40.0, -float("inf"))]}, "air temperature"),
        ({"humidity": [(0, 40.0)]}, "rows of 3"),
        ({"power": [(0, 1.001)]}, "power level"),
        ({"power": [(0, float("nan"))]}, "power level"),
        ({"power": [0.0, 1.0]}, "rows of 2"),
    ],
)
def test_a_value_that_cannot_be_is_refused(readings: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Cook.of(**readings)


@pytest.mark.parametrize("air_c", [-3276.7, 3276.7])
def test_the_coldest_and_the_hottest_air_are_kept_as_they_are(air_c: float) -> None:
    assert Cook.of(humidity=[(0, 40.0, air_c)]).air_decidegrees.tolist() == [round(10 * air_c)]


def test_building_a_cook_leaves_the_arrays_of_the_caller_alone() -> None:
    pops_s = np.array([3.0, 1.0, 2.0])
    assert Cook.of(pops_s=pops_s).pops_ms.tolist() == [1000, 2000, 3000]
    assert pops_s.tolist() == [3.0, 1.0, 2.0]
    assert pops_s.flags.writeable
