"""How many are left, against software-reliability data whose estimates are published, and against scipy."""

from math import inf

import numpy as np
import pytest
from scipy import special, stats

from service.evidence import finite_population as population

# Naval Tactical Data System: days between failures. Z. Jelinski and P. B. Moranda (1972), in W. Freiberger (ed.),
# Statistical Computer Performance Evaluation, Academic Press, 465-484; as in the R package SMPracticals. The first 26
# are of the production phase (from memory), 31 came before release, 3 after. Other copies have 8 and 1 for the 18th and
# 21st, and other estimates.
NTDS_DAYS = np.fromstring(
    "9 12 11 4 7 2 5 8 5 7 1 6 1 9 4 1 3 3 6 1 11 33 7 91 2 1 87 47 12 9 135 258 16 35",
    sep=" ",
)


def test_the_failure_data_add_up_as_published() -> None:
    """The 26th failure on day 250, the 31st on day 540, the 34th on day 849."""
    assert np.cumsum(NTDS_DAYS)[[25, 30, 33]].tolist() == [250.0, 540.0, 849.0]


def test_the_first_26_failures_give_the_published_total() -> None:
    """Published: N = 31.2 and phi = 0.00685 per day; 31 had in fact been found by release."""
    fit = population.exponential_order_statistics(NTDS_DAYS[:26])
    assert round(fit.total, 1) == 31.2
    assert round(fit.hazard, 5) == 0.00685


@pytest.mark.parametrize(
    ("n", "total", "hazard", "remaining", "next_days"),
    [
        (26, 31.215872, 0.006849373, 5.2159, 27.991),
        (31, 31.424923, 0.006480667, 0.4249, 363.14),
        (34, 34.002973, 0.004845014, 0.0030, 69_429.0),
    ],
)
def test_more_failures_give_the_computed_estimates(
    n: int, total: float, hazard: float, remaining: float, next_days: float
) -> None:
    """Computed with scipy from the equations of Jelinski and Moranda."""
    fit = population.exponential_order_statistics(NTDS_DAYS[:n])
    assert fit.total == pytest.approx(total, abs=1e-6)
    assert fit.hazard == pytest.approx(hazard, abs=1e-9)
    assert fit.remaining == pytest.approx(remaining, abs=5e-5)
    assert 1.0 / (fit.hazard * fit.remaining) == pytest.approx(next_days, rel=1e-4)


def test_other_copies_of_the_data_give_other_estimates() -> None:
    """Computed: with 8 and 1 for the 18th and 21st interval the total is 31.7735."""
    variant = NTDS_DAYS[:26].copy()
    variant[[17, 20]] = 8.0, 1.0
    fit = population.exponential_order_statistics(variant)
    assert fit.total == pytest.approx(31.7735, abs=1e-3)
    assert fit.hazard == pytest.approx(0.0066812, abs=1e-7)


@pytest.mark.parametrize(
    ("quiet_days", "total", "hazard"),
    [
        (0, 31.2159, 0.0068494),
        (10, 29.9529, 0.0073869),
        (20, 29.0310, 0.0078541),
        (40, 27.8047, 0.0086225),
        (86, 26.4505, 0.0098359),
        (100, 26.2301, 0.0101067),
    ],
)
def test_a_quiet_time_is_evidence_that_few_are_left(quiet_days: float, total: float, hazard: float) -> None:
    """Computed with scipy from the equations of Jelinski and Moranda, with the quiet time as right censoring."""
    fit = population.exponential_order_statistics(NTDS_DAYS[:26], quiet_days)
    assert fit.total == pytest.approx(total, abs=6e-5)
    assert fit.hazard == pytest.approx(hazard, abs=6e-8)


@pytest.mark.parametrize(
    ("intervals", "total", "hazard"),
    [
        # Equal intervals do not slow down: no finite estimate. Expected so by a public unit test.
        ([4, 4, 4, 4], inf, 0.0),
        ([8, 4, 2, 1], inf, 0.0),
        # Computed with scipy.
        ([1, 1, 2, 2, 3, 4, 5, 8], 8.157737, 0.09626822),
        # The equations put the total at 4.43, below the five that were seen: it is five, and phi = 5/57.
        ([1, 2, 4, 8, 16], 5.0, 5.0 / 57.0),
        ([3], inf, 0.0),
    ],
)
def test_small_cases_have_a_finite_estimate_only_where_failures_slow_down(
    intervals: list[float], total: float, hazard: float
) -> None:
    """B. Littlewood and J. L. Verrall (1981), IEEE Trans. Reliab. R-30 (from memory): the condition for existence."""
    fit = population.exponential_order_statistics(np.array(intervals, dtype=np.float64))
    assert fit.total == pytest.approx(total, abs=1e-6)
    assert fit.hazard == pytest.approx(hazard, abs=1e-8)


@pytest.mark.parametrize("bad", [[], [0.0, 0.0], [1.0, -2.0, 3.0]])
def test_intervals_that_cannot_be_are_refused(bad: list[float]) -> None:
    """None at all, all zero, or one below zero."""
    with pytest.raises(ValueError, match="at least 0"):
        population.exponential_order_statistics(np.array(bad))


def _exponential_log_density_sum(hazard: np.ndarray, times: np.ndarray) -> np.ndarray:
    return times.size * np.log(hazard) - hazard * np.sum(times)


def test_the_profile_over_the_hazard_peaks_at_the_published_estimate() -> None:
    """The grid finds what the equations find; its height is above every whole total's (computed) and near the best."""
    times = np.cumsum(NTDS_DAYS[:26])
    hazard = np.linspace(0.003, 0.012, 90_001)
    survival = np.exp(-hazard * 250.0)
    profile = population.profile_log_likelihood(_exponential_log_density_sum(hazard, times), 26, survival)
    best = int(np.argmax(profile))
    assert hazard[best] == pytest.approx(0.006849373, abs=2e-7)
    assert population.profile_total(26, survival)[best] == pytest.approx(31.2159, abs=1e-3)
    whole_totals = {29: -82.00680, 30: -81.92329, 31: -81.89652, 32: -81.90402, 33: -81.93273}
    assert all(profile[best] > value for value in whole_totals.values())
    assert profile[best] == pytest.approx(-81.89652, abs=0.002)
    for total, value in whole_totals.items():
        rate = 26.0 / (np.sum(times) + (total - 26) * 250.0)
        ways = population.log_gamma(total + 1.0) - population.log_gamma(total - 25.0)
        log_density = _exponential_log_density_sum(np.array(rate), times)
        assert log_density + ways - rate * (total - 26) * 250.0 == pytest.approx(value, abs=6e-6)


@pytest.mark.parametrize(
    ("n", "quiet_days", "total", "hazard"),
    [
        # A. L. Goel and K. Okumoto (1979), IEEE Trans. Reliab. R-28:206-211: a = 33.99, b = 0.00579 (from memory).
        (26, 0.0, 33.993503, 0.005790161),
        # Computed with scipy.
        (31, 0.0, 32.370615, 0.005855539),
        (34, 0.0, 34.826779, 0.004405894),
        (26, 10.0, 32.2094, 0.0063315),
        (26, 40.0, 29.2712, 0.0075567),
        (26, 86.0, 27.4767, 0.0087010),
    ],
)
def test_the_integrated_likelihood_peaks_at_the_estimate_of_goel_and_okumoto(
    n: int, quiet_days: float, total: float, hazard: float
) -> None:
    """A Poisson total under the scale-invariant prior has the profile of their model, and what remains is theirs."""
    times = np.cumsum(NTDS_DAYS[:n])
    grid = np.linspace(0.003, 0.012, 900_001)
    cdf = -np.expm1(-grid * (times[-1] + quiet_days))
    marginal = population.log_marginal(_exponential_log_density_sum(grid, times), n, cdf)
    best = int(np.argmax(marginal))
    assert grid[best] == pytest.approx(hazard, abs=6e-8)
    assert n + population.remaining_mean(n, cdf)[best] == pytest.approx(total, abs=2e-4)


@pytest.mark.parametrize(("n", "cdf"), [(1, 0.2), (3, 0.5), (26, 0.83), (200, 0.9)])
def test_the_scale_invariant_prior_is_a_prior_of_one_over_n_on_the_total(n: int, cdf: float) -> None:
    """The binomial likelihood summed over all totals with weight 1/N is Gamma(n)/F^n, number for number."""
    totals = np.arange(n, 20_000, dtype=np.float64)
    log_terms = special.gammaln(totals + 1) - special.gammaln(totals - n + 1) + (totals - n) * np.log1p(-cdf)
    summed = special.logsumexp(log_terms - np.log(totals))
    assert population.log_marginal(0.0, n, cdf) == pytest.approx(summed, abs=1e-9)


@pytest.mark.parametrize(("shape", "rate"), [(2.0, 0.01), (0.5, 0.0), (40.0, 0.1)])
def test_the_gamma_prior_is_integrated_out(shape: float, rate: float) -> None:
    """Numerically: the likelihood of 120 pops while F reached 0.6, times the prior, over the mean of the total."""
    mean = np.linspace(1e-3, 1500.0, 400_001)
    integrand = (120 + shape - 1.0) * np.log(mean) - mean * (0.6 + rate)
    summed = special.logsumexp(integrand) + np.log(mean[1] - mean[0])
    assert population.log_marginal(0.0, 120, 0.6, shape, rate) == pytest.approx(summed, abs=1e-6)


def test_what_cannot_have_been_is_impossible_and_what_says_nothing_is_flat() -> None:
    """Pops before the density begins have likelihood nought; no pops under the scale-invariant prior say nothing."""
    assert population.log_marginal(np.array([-inf, 0.0]), 3, np.array([0.0, 0.0])).tolist() == [-inf, -inf]
    assert population.log_marginal(np.zeros(3), 0, np.array([0.0, 0.5, 1.0])).tolist() == [0.0, 0.0, 0.0]
    assert population.log_marginal(np.zeros(2), 0, np.array([0.1, 0.9]), 2.0, 0.01)[0] > -inf


@pytest.mark.parametrize("n", [1, 2, 7, 26, 400, 5000])
def test_the_profiled_total_solves_its_equation(n: int) -> None:
    """The sum over i < n of 1/(N - i) meets -ln S, or N sits at n where it cannot; checked with scipy's digamma."""
    survival = np.concatenate((np.geomspace(1e-12, 0.5, 60), 1.0 - np.geomspace(1e-6, 0.5, 60)))
    total = population.profile_total(n, survival)
    harmonic_sum = special.digamma(total + 1.0) - special.digamma(total - n + 1.0)
    at_n = total == n
    assert np.all(harmonic_sum[at_n] <= -np.log(survival[at_n]) + 1e-9)
    np.testing.assert_allclose(harmonic_sum[~at_n], -np.log(survival[~at_n]), rtol=1e-7)


def test_the_profiled_total_at_the_ends_of_its_range() -> None:
    """All gone: it is what was seen. None could have gone, yet some did: no finite total. None seen: none."""
    assert population.profile_total(10, np.array([0.0, 1.0])).tolist() == [10.0, inf]
    assert population.profile_total(0, np.array([0.0, 0.5, 1.0])).tolist() == [0.0, 0.0, 0.0]
    ends = population.profile_log_likelihood(np.zeros(2), 10, np.array([0.0, 1.0]))
    assert ends == pytest.approx([special.gammaln(11.0), -inf])


def test_the_profiled_likelihood_is_the_highest_over_all_totals() -> None:
    """Against 4000 totals tried one by one, for four survivals."""
    tried = np.linspace(60.0, 400.0, 4001)
    for survival in (0.05, 0.2, 0.5, 0.8):
        ways = special.gammaln(tried + 1) - special.gammaln(tried - 59) + (tried - 60) * np.log(survival)
        assert population.profile_log_likelihood(0.0, 60, survival) == pytest.approx(np.max(ways), abs=1e-3)


@pytest.mark.parametrize(("shape", "rate"), [(0.0, 0.0), (4.0, 0.01)])
@pytest.mark.parametrize("n", [1, 5, 60, 300])
def test_what_remains_is_negative_binomial(n: int, shape: float, rate: float) -> None:
    """Mean exactly, quantiles within one kernel or 4 % of the mean, against scipy's."""
    cdf = np.array([0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.97, 0.99])
    success = (cdf + rate) / (1.0 + rate)
    np.testing.assert_allclose(population.remaining_mean(n, cdf, shape, rate), stats.nbinom.mean(n + shape, success))
    for probability in (0.025, 0.1, 0.5, 0.9, 0.975):
        exact = stats.nbinom.ppf(probability, n + shape, success)
        ours = population.remaining_quantile(probability, n, cdf, shape, rate)
        allowed = np.maximum(1.0, 0.04 * population.remaining_mean(n, cdf, shape, rate))
        assert np.all(np.abs(ours - exact) <= allowed)


def test_what_remains_at_the_ends_of_its_range() -> None:
    """Nothing after the whole of the density; nobody knows before it begins; a quantile wants a probability."""
    assert population.remaining_mean(5, np.array([1.0, 0.0])).tolist() == [0.0, inf]
    assert population.remaining_quantile(0.9, 5, np.array([1.0, 0.0])).tolist() == [0.0, inf]
    with pytest.raises(ValueError, match="between 0 and 1"):
        population.remaining_quantile(1.0, 5, 0.5)


@pytest.mark.parametrize(("hazard", "gap_s", "left"), [(0.02, 2.0, 25.0), (0.05, 2.0, 10.0), (0.10, 2.0, 5.0)])
def test_the_mean_gap_tells_what_is_left_in_a_first_order_tail(hazard: float, gap_s: float, left: float) -> None:
    """J. E. Byrd and M. J. Perona (2005), Cereal Chem. 82:53-59: unpopped kernels fall off first-order; 1/(phi g)."""
    assert population.left_at_gap(hazard, gap_s) == pytest.approx(left)


@pytest.mark.parametrize(
    ("left", "hazard", "expected_s"), [(10, 0.1, 29.290), (5, 0.05, 45.667), (5, 0.1, 22.833), (0, 0.1, 0.0)]
)
def test_the_last_pop_is_long_in_coming(left: int, hazard: float, expected_s: float) -> None:
    """The sum over j of 1/(phi j), computed."""
    assert population.expected_time_to_last_s(left, hazard) == pytest.approx(expected_s, abs=5e-4)


def test_finding_all_five_failures_left_takes_most_of_a_year() -> None:
    """With 31 in all and phi = 0.006948156 per day: 328.62 days, computed; Jelinski and Moranda's data."""
    assert population.expected_time_to_last_s(5, 0.006948156) == pytest.approx(328.62, abs=0.01)


@pytest.mark.parametrize(
    ("kernels", "deviation_s", "gap_s", "after_peak_s", "left"),
    [
        (400, 20.0, 2.0, 47.07, 3.72),
        (100, 20.0, 2.0, 33.27, 4.81),
        (430, 20.0, 2.0, 47.68, 3.68),
        (400, 20.0, 1.0, 40.76, 8.31),
        (400, 20.0, 3.0, 50.40, 2.35),
    ],
)
def test_gaussian_bags_have_few_left_when_the_gap_is_reached(
    kernels: int, deviation_s: float, gap_s: float, after_peak_s: float, left: float
) -> None:
    """Computed with scipy: at that time after the peak the mean gap is gap_s, and both ways of counting agree."""
    cdf = stats.norm.cdf(after_peak_s, scale=deviation_s)
    hazard = stats.norm.pdf(after_peak_s, scale=deviation_s) / stats.norm.sf(after_peak_s, scale=deviation_s)
    assert population.left_at_gap(hazard, gap_s) == pytest.approx(left, abs=0.006)
    gone = kernels * cdf
    assert population.remaining_mean(0, cdf, prior_shape=gone) == pytest.approx(left, abs=0.006)


def test_special_functions_are_those_of_scipy() -> None:
    """Over twelve decades, to the precision of double arithmetic."""
    values = np.geomspace(1e-3, 1e9, 500)
    np.testing.assert_allclose(population.log_gamma(values), special.gammaln(values), rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(population.digamma(values), special.digamma(values), rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(population.trigamma(values), special.polygamma(1, values), rtol=1e-12, atol=1e-12)
