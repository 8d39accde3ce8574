"""Kernels popped against cook time, counted in thirty bags by students: a curve that the estimators did not shape."""

from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import curve_fit

from service.evidence.finite_population import left_at_gap, profile_log_likelihood, profile_total

# "Microwave cook times & number of kernels popped in a bag of popcorn", term project, Math 1040, US community college,
# 16 November 2012. Thirty bags of one product, one bag for each time, so that a later count can be lower.
TIMES_S = np.arange(20.0, 137.0, 4.0)
POPPED = np.fromstring(
    """
    0 0 0 0 0 0 14 3 25 40 20 23 81 83 85 127 163 179 233 244 381 389 390 416 393 435 405 415 421 421
    """,
    dtype=np.int64,
    sep=" ",
)


def _normal(time_s: np.ndarray, total: float, mean_s: float, deviation_s: float) -> np.ndarray:
    return total * stats.norm.cdf(time_s, mean_s, deviation_s)


def _logistic(time_s: np.ndarray, total: float, mean_s: float, scale_s: float) -> np.ndarray:
    return total * stats.logistic.cdf(time_s, mean_s, scale_s)


def _weibull(time_s: np.ndarray, total: float, scale_s: float, shape: float) -> np.ndarray:
    return total * stats.weibull_min.cdf(time_s, shape, scale=scale_s)


def _gumbel(time_s: np.ndarray, total: float, mode_s: float, scale_s: float) -> np.ndarray:
    return total * stats.gumbel_r.cdf(time_s, mode_s, scale_s)


def test_the_counts_are_transcribed_right() -> None:
    """The report's own mean and deviation of its time column (1.1133333, 0.6176336) treat m.ss as a decimal number."""
    as_printed = TIMES_S // 60 + TIMES_S % 60 / 100
    assert np.mean(as_printed) == pytest.approx(1.1133333, abs=5e-8)
    assert np.std(as_printed, ddof=1) == pytest.approx(0.6176336, abs=5e-8)
    assert np.mean(POPPED) == pytest.approx(179.533, abs=5e-4)
    assert np.std(POPPED, ddof=1) == pytest.approx(176.330, abs=5e-4)
    assert np.mean(POPPED[TIMES_S >= 112]) == pytest.approx(415.14, abs=5e-3)


@pytest.mark.parametrize(
    ("curve", "start", "fitted", "root_mean_square"),
    [
        (_normal, (420, 88, 16), (428.82, 88.502, 16.179), 20.25),
        (_logistic, (420, 88, 10), (434.66, 88.988, 9.825), 19.58),
        (_weibull, (420, 94, 6), (421.34, 93.749, 6.6475), 18.17),
        (_gumbel, (450, 83, 16), (459.45, 83.241, 16.396), 24.41),
    ],
)
def test_least_squares_curves_are_as_computed(
    curve: Callable[..., np.ndarray],
    start: tuple[float, ...],
    fitted: tuple[float, ...],
    root_mean_square: float,
) -> None:
    """Computed with scipy: total, location and scale of four curves. They are the yardstick of the next test."""
    found, _ = curve_fit(curve, TIMES_S, POPPED, p0=start)
    np.testing.assert_allclose(found, fitted, rtol=2e-4)
    assert np.sqrt(np.mean((curve(TIMES_S, *found) - POPPED) ** 2)) == pytest.approx(root_mean_square, abs=0.01)


def _pop_times_s() -> np.ndarray:
    """One bag that pops as the thirty did: counts rearranged in rising order, each increase spread evenly over 4 s."""
    increases = np.diff(np.sort(POPPED))
    spread = [start + 4.0 * (np.arange(n) + 0.5) / n for start, n in zip(TIMES_S[:-1], increases, strict=True) if n > 0]
    return np.concatenate(spread)


def test_a_finite_population_fitted_to_the_counts_has_their_total_and_mode() -> None:
    """420 to 440 kernels and a mode of 88 to 94 s, as the curves above, and near the 415 +- 13 of the late bags."""
    times_s = _pop_times_s()
    assert times_s.size == 435
    mean_s, deviation_s = np.meshgrid(np.arange(80.0, 100.0, 0.25), np.arange(8.0, 30.0, 0.25), indexing="ij")
    log_density = stats.norm.logpdf(times_s[:, None, None], mean_s, deviation_s).sum(axis=0)
    survival = stats.norm.sf(TIMES_S[-1], mean_s, deviation_s)
    profile = profile_log_likelihood(log_density, times_s.size, survival)
    best = np.unravel_index(np.argmax(profile), profile.shape)
    assert 420.0 < profile_total(times_s.size, survival)[best] < 440.0
    assert 88.0 <= mean_s[best] <= 94.0


@pytest.mark.parametrize("watched_s", [108.0, 116.0, 124.0])
def test_the_total_is_found_before_the_popping_is_over(watched_s: float) -> None:
    """From what popped so far, once it slows down, within 15 % of what popped by the end."""
    times_s = _pop_times_s()
    heard = times_s[times_s <= watched_s]
    mean_s, deviation_s = np.meshgrid(np.arange(70.0, 130.0, 0.5), np.arange(8.0, 40.0, 0.5), indexing="ij")
    log_density = stats.norm.logpdf(heard[:, None, None], mean_s, deviation_s).sum(axis=0)
    survival = stats.norm.sf(watched_s, mean_s, deviation_s)
    profile = profile_log_likelihood(log_density, heard.size, survival)
    best = np.unravel_index(np.argmax(profile), profile.shape)
    assert profile_total(heard.size, survival)[best] == pytest.approx(435.0, rel=0.15)


@pytest.mark.parametrize(
    ("law", "total", "location_s", "scale_s", "peak_per_s", "two_second_gap_s", "left"),
    [
        (stats.norm, 428.82, 88.502, 16.179, 10.57, 128.5, 2.9),
        (stats.logistic, 434.66, 88.988, 9.825, 11.06, 132.8, 5.0),
    ],
)
def test_a_two_second_gap_leaves_few_kernels(
    law: stats.rv_continuous,
    total: float,
    location_s: float,
    scale_s: float,
    peak_per_s: float,
    two_second_gap_s: float,
    left: float,
) -> None:
    """Computed from the fitted curves: at a mean gap of 2 s three to five of some 430 kernels are still to pop."""
    assert total * law.pdf(location_s, location_s, scale_s) == pytest.approx(peak_per_s, abs=0.006)
    survival = law.sf(two_second_gap_s, location_s, scale_s)
    hazard = law.pdf(two_second_gap_s, location_s, scale_s) / survival
    assert total * law.pdf(two_second_gap_s, location_s, scale_s) == pytest.approx(0.5, abs=0.01)
    assert left_at_gap(hazard, 2.0) == pytest.approx(left, abs=0.06)
