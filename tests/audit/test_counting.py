"""The stop of a control that counts sounds, against controls that were simulated one by one."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.audit.counting import log_density_of_stop
from service.audit.listening import GAPS_S, HEARING, ListeningNumbers
from service.units import FloatArray
from tests.audit.test_listening import thinning_pops_s

TWO_S = GAPS_S.index(2.0)
STEP_S = 0.3


def too_few_s(pops_s: FloatArray, sounds: int, gap_s: float) -> float:
    """The first moment at which fewer than so many sounds are left of the last while."""
    while_s = sounds * gap_s
    sparse = np.flatnonzero(pops_s[sounds:] - pops_s[:-sounds] > while_s)
    return float(pops_s[sparse[0]] if sparse.size else pops_s[-sounds]) + while_s


def stopped_by(at_s: FloatArray, pops_s: FloatArray, sounds: int, hearing: float, late_s: float) -> FloatArray:
    """Share of controls that have stopped by each of some moments in even steps, by the density."""
    numbers = ListeningNumbers(missed_ratio=0.0, sound_late_s=late_s)
    place = (TWO_S, HEARING.index(hearing))
    density = [np.exp(log_density_of_stop(pops_s[pops_s < one], one, 0, sounds, numbers)[place]) for one in at_s]
    share: FloatArray = (np.cumsum(density) - 0.5 * np.array(density)) * STEP_S
    return share


@pytest.mark.parametrize(("sounds", "seed"), [(3, 2), (3, 8), (5, 6)])
def test_the_density_is_that_of_controls_simulated_one_by_one(sounds: int, seed: int) -> None:
    """Counts that follow each other hang together more than the model has it: to half a second, and a tenth of the controls."""
    hearing, late_s = 0.8, 0.8
    pops_s = thinning_pops_s(seed)
    random = np.random.default_rng(3)
    due_s = [too_few_s(pops_s[random.random(pops_s.size) < hearing], sounds, 2.0) for _ in range(800)]
    stops_s = np.array(due_s) + np.abs(random.normal(0.0, late_s, len(due_s)))
    at_s = np.arange(float(stops_s.min()) - 2.0, float(np.quantile(stops_s, 0.98)) + 2.0, STEP_S)
    by_model = stopped_by(at_s, pops_s, sounds, hearing, late_s)
    sooner, later = (np.array([np.mean(stops_s <= one + shift) for one in at_s]) for shift in (-0.5, 0.5))
    assert (by_model >= sooner - 0.1).all()
    assert (by_model <= later + 0.1).all()


def test_a_control_with_the_same_ears_stops_when_too_few_are_left_and_hardly_elsewhere() -> None:
    pops_s, numbers = thinning_pops_s(3), ListeningNumbers(missed_ratio=0.0, sound_late_s=0.3)
    due_s = too_few_s(pops_s, 3, 2.0)

    def density(stop_s: float) -> float:
        found = log_density_of_stop(pops_s[pops_s < stop_s], stop_s, 0, 3, numbers)
        return float(np.exp(found[TWO_S, HEARING.index(1.0)]))

    assert density(due_s + 0.1) > 10.0 * max(density(due_s - 2.5), density(due_s + 2.5), 0.03)


@settings(max_examples=15)
@given(st.integers(0, 50), st.floats(0.5, 20.0), st.integers(2, 6))
def test_the_density_is_finite_for_any_stop(seed: int, later_s: float, sounds: int) -> None:
    pops_s = thinning_pops_s(seed)
    numbers = ListeningNumbers(missed_ratio=1.2, sound_late_s=0.3)
    density = log_density_of_stop(pops_s, float(pops_s[-1]) + later_s, 10, sounds, numbers)
    assert density.shape == (len(GAPS_S), len(HEARING))
    assert np.isfinite(density).all()
