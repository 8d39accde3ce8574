"""The stop of a control that listens, against controls that were simulated one by one; and explanations against integrals."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from service.audit.evidence_of_fit import ErrorPrior, explained
from service.audit.listening import GAPS_S, HEARING, ListeningNumbers, log_density_of_stop
from service.units import FloatArray

NUMBERS = ListeningNumbers(missed_ratio=0.0, sound_late_s=0.3)
TWO_S = GAPS_S.index(2.0)


def thinning_pops_s(seed: int) -> FloatArray:
    """Pops that become rarer, invented: gaps of 0.2 s that grow by a tenth each."""
    random = np.random.default_rng(seed)
    pops_s: FloatArray = 60.0 + np.cumsum(random.exponential(0.2 * 1.06 ** np.arange(60)))
    return pops_s


def first_silence_s(pops_s: FloatArray, gap_s: float) -> float:
    gaps = np.flatnonzero(np.diff(pops_s) >= gap_s)
    return float(pops_s[gaps[0]] if gaps.size else pops_s[-1]) + gap_s


@pytest.mark.parametrize("seed", [1, 3, 5, 7])
def test_a_control_with_the_same_ears_stops_at_the_first_silence_and_hardly_elsewhere(seed: int) -> None:
    """A little is left to silences that are shorter or longer by less than a bin."""
    pops_s = thinning_pops_s(seed)
    first_s = first_silence_s(pops_s, 2.0)
    whole = HEARING.index(1.0)

    def density(stop_s: float) -> float:
        heard_s = pops_s[pops_s < stop_s]
        return float(np.exp(log_density_of_stop(heard_s, stop_s, 0, NUMBERS)[TWO_S, whole]))

    assert density(first_s) > 10.0 * max(density(first_s - 2.5), density(first_s + 2.5), 0.03)


def test_the_density_is_that_of_controls_simulated_one_by_one() -> None:
    """Many controls that hear a share of the pops each: the share that has stopped by a moment, to a quarter of a second."""
    hearing = 0.8
    numbers = ListeningNumbers(missed_ratio=0.0, sound_late_s=0.8)
    pops_s = thinning_pops_s(2)
    random = np.random.default_rng(3)
    due_s = np.array([first_silence_s(pops_s[random.random(pops_s.size) < hearing], 2.0) for _ in range(1500)])
    stops_s = due_s + np.abs(random.normal(0.0, 0.8, due_s.size))
    at_s = np.arange(float(pops_s[0]) + 5.0, float(pops_s[-1]), 0.15)
    density = [
        np.exp(log_density_of_stop(pops_s[pops_s < stop_s], float(stop_s), 0, numbers)[TWO_S, HEARING.index(hearing)])
        for stop_s in at_s
    ]
    by_model = np.cumsum(density) * 0.15
    sooner, later = (np.array([np.mean(stops_s <= one + shift) for one in at_s]) for shift in (-0.25, 0.25))
    assert (by_model >= sooner - 0.05).all()
    assert (by_model <= later + 0.05).all()


@settings(max_examples=25)
@given(st.integers(0, 50), st.floats(0.5, 20.0))
def test_the_density_is_finite_for_any_stop(seed: int, later_s: float) -> None:
    pops_s = thinning_pops_s(seed)
    density = log_density_of_stop(
        pops_s, float(pops_s[-1]) + later_s, 10, ListeningNumbers(missed_ratio=1.2, sound_late_s=0.3)
    )
    assert density.shape == (len(GAPS_S), len(HEARING))
    assert np.isfinite(density).all()


def test_a_marginal_likelihood_is_the_integral_of_the_likelihood() -> None:
    """One level and a scatter, integrated by scipy over both."""
    values = np.array([0.1, 0.4, -0.2, 0.3])
    prior = ErrorPrior(median=0.3, log_sd=0.5, least=0.05)

    level, place = np.linspace(-1.0, 1.5, 501)[:, None], np.linspace(-3.0, 3.0, 301)
    sd = np.hypot(prior.median * np.exp(prior.log_sd * place), prior.least)
    likelihood = stats.norm.pdf(values[:, None, None], level, sd).prod(axis=0)
    weighted = likelihood * stats.norm.pdf(level, 0.2, 0.7) * stats.norm.pdf(place)
    expected = integrate.simpson(integrate.simpson(weighted, x=place), x=level[:, 0])
    found = explained(values, np.ones((4, 1)), np.array([0.2]), np.array([0.7]), prior)
    assert found.log_evidence == pytest.approx(np.log(expected), abs=0.01)


def test_freedom_that_is_not_needed_costs() -> None:
    """The same numbers, explained by a level alone and by a level with a slope on something that has no part in it."""
    random = np.random.default_rng(5)
    values, other = random.normal(5.0, 0.1, 12), random.normal(size=12)
    errors = ErrorPrior(median=0.1, log_sd=0.5, least=0.01)
    plain = explained(values, np.ones((12, 1)), np.array([5.0]), np.array([1.0]), errors)
    design = np.column_stack((np.ones(12), other))
    bent = explained(values, design, np.array([5.0, 0.0]), np.array([1.0, 1.0]), errors)
    assert plain.log_evidence > bent.log_evidence + 1.0
    assert plain.coefficients[0] == pytest.approx(values.mean(), abs=0.02)
