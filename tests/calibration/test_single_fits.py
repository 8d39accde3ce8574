"""The fits that look at one cook, on signals of which the truth is known by construction."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.calibration.humidity import fitted_lag_s
from service.calibration.popping_fit import MANY_POPS, fit_popping
from service.calibration.rise import rise_log_likelihood
from service.evidence.pop_times import SpreadPrior, pop_times
from service.evidence.vapour import Vapour
from service.units import FloatArray
from tests.simulation.microphone import counted_s

FORMS = pop_times(
    SpreadPrior(
        low=0.07, high=0.27, levels=8, typical=0.145, log_sd=0.25, slant=0.2, slanted_share=0.33, cold_tailed_share=0.33
    )
)


def drawn_pops_s(location_s: float, spread: float, count: int, seed: int) -> FloatArray:
    """Log-normal pop times."""
    pops_s: FloatArray = np.sort(location_s * np.exp(np.random.default_rng(seed).normal(0.0, spread, count)))
    return pops_s


@settings(max_examples=30)
@given(st.floats(50.0, 300.0), st.floats(0.1, 0.2), st.integers(0, 100))
def test_the_location_of_drawn_pops_is_found(location_s: float, spread: float, seed: int) -> None:
    fit = fit_popping(FORMS, drawn_pops_s(location_s, spread, 400, seed), 2.0 * location_s, 0.0)
    assert fit is not None
    assert fit.location_u_s == pytest.approx(location_s, rel=0.1)
    assert fit.u_s_at_share(0.5) == pytest.approx(location_s, rel=0.04)
    assert fit.begins_u_s() < location_s


def test_a_bag_that_is_stopped_early_is_located_too() -> None:
    """Half of the kernels are still to come, and nobody says how many there are."""
    pops_s = drawn_pops_s(120.0, 0.14, 400, 3)
    fit = fit_popping(FORMS, pops_s[pops_s < 122.0], 122.0, 0.0)
    assert fit is not None
    assert fit.location_u_s == pytest.approx(120.0, rel=0.08)


def test_the_residuals_of_the_right_model_keep_their_bound() -> None:
    """Time rescaling (Brown et al. 2002): of fitted models even more than 95 in 100 do."""
    fits = [fit_popping(FORMS, drawn_pops_s(120.0, 0.145, 300, seed), 220.0, 0.0) for seed in range(60)]
    assert sum(fit is not None and fit.distance < fit.bound for fit in fits) >= 55


def test_a_dead_time_is_allowed_for() -> None:
    """With pops that merge in 60 ms the residuals keep their bound when that is known, and break it when it is not."""
    kept = {0.0: 0, 0.06: 0}
    for seed in range(30):
        heard_s = counted_s(drawn_pops_s(120.0, 0.14, 500, seed), 0.06, paralysable=False)
        for dead_time_s in kept:
            fit = fit_popping(FORMS, heard_s, 220.0, dead_time_s)
            kept[dead_time_s] += fit is not None and fit.distance < fit.bound
    assert kept[0.06] >= 26 > 20 > kept[0.0]


def test_pops_that_lie_in_no_such_way_are_found_out() -> None:
    """Two bags one after the other, as nobody should log them."""
    both = np.concatenate((drawn_pops_s(80.0, 0.08, 200, 1), drawn_pops_s(190.0, 0.05, 200, 2)))
    fit = fit_popping(FORMS, np.sort(both), 260.0, 0.0)
    assert fit is not None
    assert fit.distance > fit.bound


def test_few_pops_locate_nothing() -> None:
    assert fit_popping(FORMS, drawn_pops_s(120.0, 0.14, MANY_POPS - 1, 1), 220.0, 0.0) is None


def risen(flush_s: float, lag_s: float, opened_s: float, pops_s: FloatArray, t_s: FloatArray) -> FloatArray:
    """Vapour at the sensor: a puff and the steam of pops through the cavity's air and the sensor, by small steps."""
    fine_s = np.arange(0.0, t_s[-1] + 1.0, 0.05)
    steam = 150.0 * np.exp(-np.maximum(fine_s - opened_s, 0.0) / 1.5) * (fine_s >= opened_s)
    steam += (
        0.25
        * np.interp(fine_s, fine_s, np.histogram(pops_s, np.append(fine_s, fine_s[-1] + 0.05))[0] / 0.05)
        * (fine_s >= opened_s)
    )
    cavity, sensed, seen = 0.0, 0.0, []
    for flow in steam.tolist():
        cavity += 0.05 * (flow - cavity) / flush_s
        sensed += 0.05 * (cavity - sensed) / lag_s
        seen.append(sensed)
    return 8.0 + np.interp(t_s, fine_s, np.array(seen))


@pytest.mark.parametrize(("flush_s", "lag_s"), [(12.0, 2.5), (10.0, 9.0)])
def test_the_lag_of_some_rises_is_found(flush_s: float, lag_s: float) -> None:
    """Six bags; flush and lag stand one behind the other, so the interval is wide, but it holds the lag."""
    t_s = np.arange(0.0, 150.0, 1.0)
    tables = []
    for bag, opened_s in enumerate((98.3, 101.0, 104.6, 106.1, 107.7, 110.4)):
        pops_s = drawn_pops_s(110.0, 0.12, 400, bag)
        noise = np.random.default_rng(bag).normal(0.0, 0.1, t_s.size)
        density = risen(flush_s, lag_s, opened_s, pops_s, t_s) + noise
        vapour = Vapour(
            density_g_m3=density,
            air_decidegrees=np.full(t_s.size, 300, dtype=np.int32),
            is_saturated=np.zeros(t_s.size, dtype=np.bool_),
        )
        tables.append(rise_log_likelihood(t_s, vapour, opened_s + 0.7, pops_s, (0.25, 0.3)))
    found = fitted_lag_s([table for table in tables if table is not None], 0.95)
    assert not isinstance(found, str)
    assert found.low is not None
    assert found.high is not None
    assert found.low <= lag_s <= found.high < 9.0 * found.low


def test_a_saturated_rise_shows_no_lag() -> None:
    t_s = np.arange(0.0, 150.0, 1.0)
    saturated = t_s > 103.0
    air = np.full(t_s.size, 300, dtype=np.int32)
    vapour = Vapour(density_g_m3=np.where(saturated, 30.0, 8.0), air_decidegrees=air, is_saturated=saturated)
    assert rise_log_likelihood(t_s, vapour, 104.0, drawn_pops_s(110.0, 0.1, 50, 1), (0.25, 0.3)) is None
