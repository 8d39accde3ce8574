"""The dead-time correction against the counting formulas of radiation detection, at the rates of a popcorn bag."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from service.evidence.dead_time import (
    counted_rate_per_s,
    dead_time_from_pops,
    paralysable_rate_per_s,
    true_rate_per_s,
)

# The two standard models of G. F. Knoll, Radiation Detection and Measurement (the paralysable one from memory),
# computed.
RATES = [
    # true_per_s, dead_time_s, counted by a non-paralysable, by a paralysable detector
    (1.0, 0.02, 0.9804, 0.9802),
    (5.0, 0.03, 4.3478, 4.3035),
    (10.0, 0.02, 8.3333, 8.1873),
    (10.0, 0.05, 6.6667, 6.0653),
    (20.0, 0.03, 12.5000, 10.9762),
    (20.0, 0.05, 10.0000, 7.3576),
    (50.0, 0.05, 14.2857, 4.1042),
]


@pytest.mark.parametrize(("true_per_s", "dead_time_s", "non_paralysable", "paralysable"), RATES)
def test_counted_rates_are_those_of_the_two_models(
    true_per_s: float, dead_time_s: float, non_paralysable: float, paralysable: float
) -> None:
    """To the four decimals computed."""
    assert counted_rate_per_s(true_per_s, dead_time_s) == pytest.approx(non_paralysable, abs=5.1e-5)
    assert paralysable_rate_per_s(true_per_s, dead_time_s) == pytest.approx(paralysable, abs=5.1e-5)


@pytest.mark.parametrize(
    ("counted_per_s", "dead_time_s", "true_per_s"), [(10.0, 0.02, 12.5), (12.0, 0.03, 18.75), (8.0, 0.05, 13.3333)]
)
def test_the_correction_gives_the_true_rate(counted_per_s: float, dead_time_s: float, true_per_s: float) -> None:
    """Computed from n = m/(1 - m tau)."""
    assert true_rate_per_s(counted_per_s, dead_time_s) == pytest.approx(true_per_s, abs=5e-5)


@pytest.mark.parametrize(("counted", "dead_time_s", "true"), [(10.0, 0.02, 12.95856), (12.0, 0.03, 26.86948)])
def test_a_paralysable_detector_would_mean_more_pops(counted: float, dead_time_s: float, true: float) -> None:
    """Lower branch, computed; so the non-paralysable correction never overstates the rate."""
    assert paralysable_rate_per_s(true, dead_time_s) == pytest.approx(counted, abs=1e-5)
    assert true_rate_per_s(counted, dead_time_s) < true


def test_no_rate_makes_a_paralysable_detector_count_more_than_its_maximum() -> None:
    """At 0.05 s it never counts 8 per second: the maximum is 1/(e tau), 7.3576 per second, at a true rate of 1/tau."""
    counted = paralysable_rate_per_s(np.linspace(0.0, 200.0, 20_001), 0.05)
    assert np.max(counted) == pytest.approx(7.3576, abs=5e-5)
    assert np.argmax(counted) == 2000


@pytest.mark.parametrize(("counted_per_s", "dead_time_s"), [(20.0, 0.05), (33.4, 0.03), (1000.0, 0.02)])
def test_a_count_at_or_over_the_inverse_dead_time_is_refused(counted_per_s: float, dead_time_s: float) -> None:
    """Such a count cannot be, and the message says what the most is."""
    with pytest.raises(ValueError, match=rf"counts fewer than {1.0 / dead_time_s:g} per second; got {counted_per_s:g}"):
        true_rate_per_s(np.array([1.0, counted_per_s]), dead_time_s)


def test_what_is_below_zero_is_refused() -> None:
    """Rates and dead times alike."""
    with pytest.raises(ValueError, match="not below zero"):
        true_rate_per_s(-1.0, 0.02)
    with pytest.raises(ValueError, match="not below zero"):
        counted_rate_per_s(1.0, -0.02)


def test_the_worked_example_of_a_detector_for_radiation() -> None:
    """S. N. Ahmed, Physics and Engineering of Radiation Detection, p. 195: 1.53e4 counts per second, 67 % efficient.

    The page prints a dead time of 21.5 microseconds and a true rate of 2.83e4; 1.53e4/0.67 is 2.28e4, so two digits of
    the printed rate have changed places.
    """
    counted, dead_time_s = 1.53e4, (1.0 - 0.67) / 1.53e4
    assert dead_time_s == pytest.approx(2.1569e-5, rel=1e-4)
    assert true_rate_per_s(counted, dead_time_s) == pytest.approx(2.2836e4, rel=1e-4)


def test_forward_and_back_is_where_it_started() -> None:
    """Whatever the rate and the dead time."""
    rate = np.linspace(0.0, 100.0, 201)
    for dead_time_s in (0.0, 0.005, 0.03, 0.1):
        np.testing.assert_allclose(
            true_rate_per_s(counted_rate_per_s(rate, dead_time_s), dead_time_s), rate, rtol=1e-12
        )


@pytest.mark.parametrize(
    ("kernels", "deviation_s", "dead_time_s", "non_paralysable", "paralysable"),
    [(400, 20.0, 0.03, 343.3, 338.5), (400, 15.0, 0.03, 328.2, 320.5), (430, 20.0, 0.05, 333.0, 319.9)],
)
def test_a_whole_bag_loses_a_sixth_or_more_of_its_pops(
    kernels: int, deviation_s: float, dead_time_s: float, non_paralysable: float, paralysable: float
) -> None:
    """Gaussian pop times, rates integrated over the bag, computed."""

    def pops_per_s(time_s: float) -> float:
        return float(kernels * norm.pdf(time_s, scale=deviation_s))

    for counted, expected in ((counted_rate_per_s, non_paralysable), (paralysable_rate_per_s, paralysable)):
        total, _ = quad(lambda t, c=counted: float(c(pops_per_s(t), dead_time_s)), -8 * deviation_s, 8 * deviation_s)
        assert total == pytest.approx(expected, abs=0.06)


def _heard_ms(seed: int, dead_time_s: float, kernels: int = 430, deviation_s: float = 20.0) -> np.ndarray:
    """Gaussian pop times of one bag through a non-paralysable detector, in milliseconds."""
    times = np.sort(np.random.default_rng(seed).normal(120.0, deviation_s, kernels))
    heard = [times[0]]
    for time in times[1:]:
        if time - heard[-1] >= dead_time_s:
            heard.append(time)
    return np.unique(np.rint(1000.0 * np.array(heard)).astype(np.int32))


@pytest.mark.parametrize("dead_time_s", [0.02, 0.03, 0.05, 0.08])
def test_the_dead_time_is_read_off_the_smallest_gaps(dead_time_s: float) -> None:
    """Forty seeded bags: the mean estimate is within 1.5 ms of the truth, and single ones within 5 ms."""
    found = [dead_time_from_pops(_heard_ms(seed, dead_time_s), stray_share=0.01) for seed in range(40)]
    estimates = np.array([dead_time.estimate_s for dead_time in found if dead_time is not None])
    assert estimates.size == 40
    assert abs(np.mean(estimates) - dead_time_s) < 0.0015
    assert np.max(np.abs(estimates - dead_time_s)) < 0.005


def test_the_standard_error_is_what_the_estimates_scatter_by() -> None:
    """Over 200 seeded bags, within a factor of 1.5."""
    found = [dead_time_from_pops(_heard_ms(seed, 0.03), stray_share=0.01) for seed in range(200)]
    known = [dead_time for dead_time in found if dead_time is not None]
    scatter = np.std([dead_time.estimate_s for dead_time in known])
    claimed = np.mean([dead_time.standard_error_s for dead_time in known])
    assert 1 / 1.5 < claimed / scatter < 1.5


@pytest.mark.parametrize("seed", range(10))
def test_a_few_stray_short_gaps_do_not_upset_it(seed: int) -> None:
    """Three gaps of 1 ms among some 350 leave the estimate within 10 ms of 30, where the smallest gap would say 1."""
    pops_ms = _heard_ms(seed, 0.03)
    strays = np.unique(np.concatenate((pops_ms, pops_ms[[50, 150, 250]] + 1)))
    found = dead_time_from_pops(strays, stray_share=0.01)
    assert found is not None
    assert np.min(np.diff(strays)) == 1
    assert abs(found.estimate_s - 0.03) < 0.01
    assert found.gaps == strays.size - 1


def test_too_few_pops_say_nothing() -> None:
    """An answer, not an error; a share of strays that leaves no honest gaps is an error."""
    few = np.array([0, 40, 90, 200, 260, 300], np.int32)
    assert dead_time_from_pops(few, stray_share=0.01) is None
    assert dead_time_from_pops(np.array([], np.int32), stray_share=0.0) is None
    with pytest.raises(ValueError, match="share of stray gaps"):
        dead_time_from_pops(few, stray_share=0.5)
