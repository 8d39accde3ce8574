"""Tests of two groups, trends and analyses of variance against scipy, and where they have no answer."""

from math import isinf

import numpy as np
import pytest
from scipy import stats

from service.audit.comparing import paired, pooled, welch
from service.audit.least_squares import TooFew
from service.audit.trends import trend
from service.audit.variance import analysis_of_variance
from tests.audit.published import LEFT_A, LEFT_B

SEEDS = range(4)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_t_tests_are_those_of_scipy(seed: int) -> None:
    random = np.random.default_rng(seed)
    first, second = random.normal(3.0, 1.0, 5), random.normal(4.0, 3.0, 5)
    for found, expected in (
        (pooled(first, second, 0.9), stats.ttest_ind(second, first)),
        (welch(first, second, 0.9), stats.ttest_ind(second, first, equal_var=False)),
        (paired(first, second, 0.9), stats.ttest_rel(second, first)),
    ):
        assert (found.difference.t, found.difference.p) == pytest.approx((expected.statistic, expected.pvalue))
        interval = expected.confidence_interval(0.9)
        assert (found.difference.interval.low, found.difference.interval.high) == pytest.approx(tuple(interval))


def test_the_permutation_tests_are_those_of_scipy() -> None:
    """Two brands of popcorn (R package Stat2Data, Popcorn); scipy counts all ways as we do."""

    def apart(one: np.ndarray, other: np.ndarray) -> float:
        return float(np.mean(other) - np.mean(one))

    for found, kind in ((pooled(LEFT_A, LEFT_B, 0.95), "independent"), (paired(LEFT_A, LEFT_B, 0.95), "samples")):
        expected = stats.permutation_test((LEFT_A, LEFT_B), apart, permutation_type=kind, n_resamples=np.inf)
        assert found.permutation_p == pytest.approx(expected.pvalue, abs=1e-9)


def test_too_many_ways_are_not_counted() -> None:
    many = np.random.default_rng(1).normal(size=40)
    assert welch(many, many + 1.0, 0.95).permutation_p is None
    assert paired(many, many[::-1], 0.95).permutation_p is None


def test_an_effect_size_is_the_difference_in_standard_deviations() -> None:
    """Cohen (1988), by hand: means 1 and 3, both standard deviations 1."""
    assert pooled(np.array([0.0, 1.0, 2.0]), np.array([2.0, 3.0, 4.0]), 0.95).cohens_d == pytest.approx(2.0)


def test_numbers_that_do_not_scatter_differ_for_sure_or_not_at_all() -> None:
    same = np.full(4, 5.0)
    assert isinf(welch(same, same + 1.0, 0.95).difference.t)
    assert welch(same, same, 0.95).difference.p == 1.0
    assert welch(same, same + 1.0, 0.95).cohens_d is None


def test_one_bag_is_no_group() -> None:
    for test in (pooled, welch, paired):
        with pytest.raises(TooFew, match="two bags"):
            test(np.array([1.0]), np.array([2.0]), 0.95)


def test_two_trials_are_no_trend() -> None:
    with pytest.raises(TooFew, match="three different trials"):
        trend(np.arange(4.0), np.array([1.0, 2.0, 1.0, 2.0]), ["A", "A", "B", "B"], 0.95)


def test_a_set_without_repeats_has_no_scatter_to_test_against() -> None:
    factors = {"a": [0, 0, 1, 1], "b": [0, 1, 0, 1]}
    values = np.array([1.0, 2.0, 4.0, 8.0])
    assert analysis_of_variance(values, factors).of("a").p is None
    assert analysis_of_variance(values, factors, together=1).of("a").p is not None


def test_what_rounding_leaves_of_no_scatter_is_none_to_test_against() -> None:
    # Thirds and sevenths, each bag like its twin: the residuals are some 1e-30 of the total, but not 0.
    values = np.repeat([100.0 / 3.0, 100.0 / 7.0, 200.0 / 3.0, 300.0 / 7.0], 2)
    factors = {"a": [1, 1, 1, 1, 2, 2, 2, 2], "b": [1, 1, 2, 2, 1, 1, 2, 2]}
    found = analysis_of_variance(values, factors)
    assert 0.0 < found.residual_ss < 1e-12 * found.total_ss
    assert all(term.f is None and term.p is None for term in found.terms)


def test_a_factor_of_one_level_and_too_many_factors_are_refused() -> None:
    with pytest.raises(TooFew, match="two levels"):
        analysis_of_variance(np.arange(3.0), {"a": [1, 1, 1]})
    with pytest.raises(ValueError, match="1 to 3 factors"):
        analysis_of_variance(np.arange(3.0), {name: [1, 2, 3] for name in "abcd"})
