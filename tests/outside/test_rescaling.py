"""Time rescaling against the failure data of a published example, and its bounds against exact ones."""

import numpy as np
import pytest
from scipy import stats

from service.evidence.finite_population import cumulative_intensity, exponential_order_statistics
from service.evidence.rescaling import ks_bound, ks_distance, rescaled_residuals, uniform_residuals

# Z. Jelinski and P. B. Moranda (1972), in Statistical Computer Performance Evaluation, Academic Press, 465-484: days
# between the first 26 failures, as in the R package SMPracticals.
NTDS_DAYS = np.fromstring("9 12 11 4 7 2 5 8 5 7 1 6 1 9 4 1 3 3 6 1 11 33 7 91 2 1", sep=" ")
# Computed: phi (N - i + 1) x_i at the most likely N and phi.
RESIDUALS = np.fromstring(
    """
    1.9243 2.4835 2.2012 0.7730 1.3049 0.3591 0.8636 1.3269 0.7951 1.0652 0.1453 0.8308 0.1316
    1.1229 0.4717 0.1111 0.3127 0.2921 0.5431 0.0837 0.8450 2.3091 0.4419 5.1209 0.0988 0.0426
    """,
    sep=" ",
)


def test_the_residuals_of_a_fitted_population_are_as_computed() -> None:
    """Each of them, and their mean is 1; the distance is 0.095519, exact p 0.9535 (computed with scipy)."""
    fit = exponential_order_statistics(NTDS_DAYS)
    residuals = rescaled_residuals(cumulative_intensity(fit.total, fit.hazard * np.cumsum(NTDS_DAYS)))
    np.testing.assert_allclose(residuals, RESIDUALS, atol=6e-5)
    assert np.mean(residuals) == pytest.approx(1.0, abs=1e-6)
    distance = ks_distance(uniform_residuals(residuals))
    assert distance == pytest.approx(0.095519, abs=1e-6)
    assert stats.kstwo.sf(distance, 26) == pytest.approx(0.9535, abs=5e-5)
    assert distance < ks_bound(26, 0.95)


def test_the_residuals_of_a_poisson_total_are_as_computed() -> None:
    """A. L. Goel and K. Okumoto (1979) on the same data: distance 0.123719, exact p 0.7762 (computed with scipy)."""
    intensity = 33.993503 * -np.expm1(-0.005790161 * np.cumsum(NTDS_DAYS))
    distance = ks_distance(uniform_residuals(rescaled_residuals(intensity)))
    assert distance == pytest.approx(0.123719, abs=1e-6)
    assert stats.kstwo.sf(distance, 26) == pytest.approx(0.7762, abs=5e-5)


@pytest.mark.parametrize("seed", range(5))
def test_the_distance_is_that_of_scipy(seed: int) -> None:
    """Seeded samples of 1 to 60 events, uniform and not."""
    random = np.random.default_rng(seed)
    for size in (1, 2, 17, 60):
        uniform = random.uniform(size=size) ** (1 + seed / 2)
        assert ks_distance(uniform) == pytest.approx(stats.kstest(uniform, "uniform").statistic, abs=1e-12)


# Exact bounds, computed with scipy.
EXACT_95 = {10: 0.40925, 20: 0.29408, 26: 0.25907, 34: 0.22743, 50: 0.18841, 100: 0.13403, 200: 0.09516, 400: 0.06747}
EXACT_99 = {10: 0.48893, 26: 0.31063, 100: 0.16081}
BOUNDS = [(n, 0.95, exact) for n, exact in EXACT_95.items()] + [(n, 0.99, exact) for n, exact in EXACT_99.items()]


@pytest.mark.parametrize(("events", "level", "exact"), BOUNDS)
def test_the_bound_is_the_exact_one(events: int, level: float, exact: float) -> None:
    """Within 0.4 % from ten events on."""
    assert stats.kstwo.ppf(level, events) == pytest.approx(exact, abs=6e-6)
    assert ks_bound(events, level) == pytest.approx(exact, rel=4e-3)


@pytest.mark.parametrize(("level", "published", "computed"), [(0.95, 1.36, 1.35810), (0.99, 1.63, 1.62762)])
def test_the_bound_for_many_events_is_the_published_one(level: float, published: float, computed: float) -> None:
    """E. N. Brown et al. (2002), Neural Comput. 14:325-346: 1.36 and 1.63 over the root of n (from memory)."""
    asymptotic = ks_bound(10**10, level) * 1e5
    assert asymptotic == pytest.approx(computed, abs=1e-5)
    assert asymptotic == pytest.approx(published, abs=0.005)


def test_a_right_intensity_passes_as_often_as_it_should_and_a_wrong_one_does_not() -> None:
    """Two thousand seeded trains of 100 events: 95 % within the bound, to three standard errors; half rate, none."""
    steps = np.random.default_rng(5).exponential(size=(2000, 100))
    bound = ks_bound(100, 0.95)
    right = np.mean([ks_distance(uniform_residuals(train)) < bound for train in steps])
    wrong = np.mean([ks_distance(uniform_residuals(train / 2.0)) < bound for train in steps])
    assert abs(right - 0.95) < 3.0 * np.sqrt(0.95 * 0.05 / 2000)
    assert wrong < 0.01


def test_what_cannot_be_is_refused() -> None:
    """An intensity that falls, no events, a level that is none."""
    with pytest.raises(ValueError, match="cannot fall"):
        rescaled_residuals(np.array([1.0, 0.5]))
    with pytest.raises(ValueError, match="at least one event"):
        ks_distance(np.array([]))
    with pytest.raises(ValueError, match="level between"):
        ks_bound(20, 0.2)
    with pytest.raises(ValueError, match="at least one event"):
        ks_bound(0, 0.95)
