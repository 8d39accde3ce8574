"""Intervals of shares against reference libraries, and whether they cover what they say."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from service.audit.comparing import mean_of, welch
from service.audit.intervals import (
    Interval,
    exact_interval,
    normal_interval,
    pooled_share,
    wilson_interval,
)
from service.audit.least_squares import TooFew

REPETITIONS = 250
COUNTS = [(0, 1), (0, 12), (1, 12), (12, 12), (3, 40), (86, 773), (5, 400), (400, 400), (20_000, 1_000_000)]
METHODS = {"exact": exact_interval, "wilson": wilson_interval}


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("level", [0.8, 0.95, 0.99])
@pytest.mark.parametrize(("count", "of"), COUNTS)
def test_an_interval_is_that_of_scipy(method: str, level: float, count: int, of: int) -> None:
    """proportion_ci of scipy's binomtest."""
    found = METHODS[method](count, of, level)
    expected = stats.binomtest(count, of).proportion_ci(level, method=method)
    assert (found.low, found.high) == pytest.approx((expected.low, expected.high), abs=1e-9)


@given(st.integers(1, 5000), st.data(), st.floats(0.5, 0.999))
def test_an_interval_holds_its_estimate_and_stays_within_0_and_1(of: int, data: st.DataObject, level: float) -> None:
    count = data.draw(st.integers(0, of))
    for interval in (exact_interval(count, of, level), wilson_interval(count, of, level)):
        assert 0.0 <= interval.low <= count / of <= interval.high <= 1.0


@given(st.integers(1, 300), st.data())
def test_counting_the_others_turns_an_interval_round(of: int, data: st.DataObject) -> None:
    count = data.draw(st.integers(0, of))
    for method in (exact_interval, wilson_interval):
        one, other = method(count, of, 0.95), method(of - count, of, 0.95)
        assert (one.low, one.high) == pytest.approx((1.0 - other.high, 1.0 - other.low), abs=1e-9)


@pytest.mark.parametrize(("of", "share"), [(20, 0.03), (60, 0.05), (300, 0.02)])
def test_intervals_of_a_share_cover_what_they_say(of: int, share: float) -> None:
    """The coverage in full, summed over all counts: exact never below 95 %, Wilson near it."""
    counts = np.arange(of + 1)
    weight = stats.binom.pmf(counts, of, share)

    def coverage(intervals: list[Interval]) -> float:
        return float(weight @ np.array([interval.holds(share) for interval in intervals]))

    assert coverage([exact_interval(int(count), of, 0.95) for count in counts]) >= 0.95
    assert coverage([wilson_interval(int(count), of, 0.95) for count in counts]) == pytest.approx(0.95, abs=0.03)


def test_bags_that_differ_need_the_wider_interval() -> None:
    """Eight bags whose own shares scatter (beta-binomial): as if independent, far too few cover; allowing for bags, enough do."""
    random = np.random.default_rng(11)
    held = {"as independent": 0, "allowing for bags": 0}
    for _ in range(REPETITIONS):
        totals = random.integers(300, 500, 8)
        counts = random.binomial(totals, random.beta(4.0, 46.0, 8))
        found = pooled_share(counts.tolist(), totals.tolist(), 0.95)
        assert found.allowing_for_bags is not None
        held["as independent"] += found.wilson.holds(0.08)
        held["allowing for bags"] += found.allowing_for_bags.holds(0.08)
    assert held["as independent"] < 0.65 * REPETITIONS
    assert 0.92 * REPETITIONS < held["allowing for bags"] < 0.985 * REPETITIONS


def test_bags_that_do_not_differ_cost_little() -> None:
    random = np.random.default_rng(12)
    held = 0
    for _ in range(REPETITIONS // 4):
        counts = random.binomial(400, 0.05, 8)
        found = pooled_share(counts.tolist(), [400] * 8, 0.95)
        assert found.allowing_for_bags is not None
        held += found.allowing_for_bags.holds(0.05)
    assert held >= 0.95 * REPETITIONS / 4


def test_one_bag_says_nothing_of_how_bags_differ() -> None:
    found = pooled_share([4], [400], 0.95)
    assert found.scatter is None
    assert found.allowing_for_bags is None
    assert found.exact == exact_interval(4, 400, 0.95)


def test_one_bag_has_a_mean_without_an_interval() -> None:
    found = mean_of(np.array([36.5]), 0.95)
    assert (found.value, found.bags, found.sd, found.interval) == (36.5, 1, None, None)
    with pytest.raises(TooFew):
        mean_of(np.empty(0), 0.95)


def test_intervals_of_means_and_differences_cover_what_they_say() -> None:
    random = np.random.default_rng(13)
    mean_held = difference_held = 0
    for _ in range(REPETITIONS):
        first, second = random.normal(20.0, 6.0, 4), random.normal(26.0, 12.0, 6)
        of_mean = mean_of(first, 0.95).interval
        assert of_mean is not None
        mean_held += of_mean.holds(20.0)
        difference_held += welch(first, second, 0.95).difference.interval.holds(6.0)
    assert mean_held / REPETITIONS == pytest.approx(0.95, abs=0.02)
    assert difference_held / REPETITIONS == pytest.approx(0.95, abs=0.02)


@pytest.mark.parametrize(("count", "of", "level"), [(3, 2, 0.95), (-1, 2, 0.95), (0, 0, 0.95), (1, 2, 1.0)])
def test_impossible_counts_and_levels_are_refused(count: int, of: int, level: float) -> None:
    for method in (*METHODS.values(), normal_interval):
        with pytest.raises(ValueError, match=r"count|level"):
            method(count, of, level)
