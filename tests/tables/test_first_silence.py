"""The typical first silence, against listeners who hear one pop after the other, and against a plain integration."""

from math import log

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.evidence.pop_times import CENTRES_X, EDGES_X
from service.forecast.first_silence import typical_stop_s
from service.forecast.popcorn_model import popcorn_model
from tests.cooks import POPCORN, FloatArray

MODEL = popcorn_model(POPCORN)
FORMS = MODEL.grid.forms
# Kernels, location in s and gap in s: regular, snack, long and short gaps, a weak oven, few kernels.
BAGS = [(400, 100.0, 2.0), (150, 60.0, 2.0), (430, 90.0, 3.0), (430, 90.0, 1.0), (800, 200.0, 2.0), (100, 90.0, 2.0)]
# The three forms of a narrow, a middling and a wide spread.
SOME_FORMS = [3, 4, 5, 6, 7, 8, 9, 10, 11]


def typical(form: int, kernels: float, location_s: float, gap_s: float) -> float:
    one = np.array([form], dtype=np.int32)
    stop_s = typical_stop_s(MODEL.silence, one, np.array([float(kernels)]), np.array([log(location_s)]), gap_s)
    return float(stop_s[0])


def peak_s(form: int, location_s: float) -> float:
    return float(location_s * np.exp(CENTRES_X[np.argmax(FORMS.density[form] * np.exp(-CENTRES_X))]))


def heard_first_silence_s(
    form: int, kernels: float, location_s: float, gap_s: float, rng: np.random.Generator
) -> float:
    """One listener: draws a bag, and waits after the peak for the first silence, to its end."""
    share = FORMS.cdf[form] / FORMS.cdf[form, -1]
    pops_s = np.sort(location_s * np.exp(np.interp(rng.random(rng.poisson(kernels)), share, EDGES_X)))
    later = np.append(pops_s[pops_s > peak_s(form, location_s)], np.inf)
    return float(later[np.flatnonzero(np.diff(later) >= gap_s)[0]] + gap_s)


def integrated_s(form: int, kernels: float, location_s: float, gap_s: float) -> float:
    """The median by summing the hazard of a silence over a hundredth of a second."""
    u_s = np.arange(location_s * np.exp(EDGES_X[0]), location_s * np.exp(EDGES_X[-1]) + 2.0 * gap_s, 0.01)
    expected = kernels * np.interp(np.log(u_s / location_s), EDGES_X, FORMS.cdf[form])
    rate: FloatArray = np.gradient(expected, u_s)
    hazard = rate * np.exp(expected - np.interp(u_s + gap_s, u_s, expected))
    hazard[u_s < peak_s(form, location_s)] = 0.0
    return float(u_s[np.searchsorted(np.cumsum(hazard) * 0.01, log(2.0))] + gap_s)


@pytest.mark.parametrize("form", SOME_FORMS)
@pytest.mark.parametrize(("kernels", "location_s", "gap_s"), BAGS)
def test_half_of_the_listeners_have_heard_it_by_then(form: int, kernels: int, location_s: float, gap_s: float) -> None:
    """Three hundred seeded listeners to a known intensity; within 1 s, or 1 % where that is more, and the luck of the draw."""
    rng = np.random.default_rng(form)
    heard_s = [heard_first_silence_s(form, kernels, location_s, gap_s, rng) for _ in range(300)]
    luck_s = 2.0 * 1.25 * np.std(heard_s) / np.sqrt(300.0)
    found_s = typical(form, kernels, location_s, gap_s)
    assert found_s == pytest.approx(np.median(heard_s), abs=max(1.0, 0.01 * found_s) + luck_s)


@pytest.mark.parametrize("form", SOME_FORMS)
@pytest.mark.parametrize(("kernels", "location_s", "gap_s"), BAGS)
def test_it_is_where_the_hazard_adds_up_to_a_half(form: int, kernels: int, location_s: float, gap_s: float) -> None:
    """Within 0.4 %, on either side: the table interpolates between coarse nodes, and reads the densities a step at a time."""
    assert typical(form, kernels, location_s, gap_s) == pytest.approx(
        integrated_s(form, kernels, location_s, gap_s), rel=0.004
    )


def test_it_is_neither_early_nor_late_on_the_whole() -> None:
    """The mean over bags and forms, within a twentieth of a per cent: a tenth of a second of a cook of three minutes."""
    off = [log(typical(form, *bag) / integrated_s(form, *bag)) for form in SOME_FORMS for bag in BAGS]
    assert np.mean(off) == pytest.approx(0.0, abs=0.0005)


forms = st.integers(0, FORMS.spread.size - 1)
kernels_drawn = st.floats(16.0, 3900.0)
locations_s = st.floats(26.0, 400.0)
gaps_s = st.floats(0.7, 8.0)


@given(forms, kernels_drawn, locations_s, gaps_s, st.floats(0.5, 4.0))
def test_stretching_the_cook_and_the_gap_stretches_the_stop(
    form: int, kernels: float, location_s: float, gap_s: float, factor: float
) -> None:
    stretched = typical(form, kernels, factor * location_s, factor * gap_s)
    assert stretched == pytest.approx(factor * typical(form, kernels, location_s, gap_s), rel=1e-9)


@given(forms, kernels_drawn, locations_s, gaps_s, st.floats(1.0, 3.0))
def test_more_kernels_are_heard_out_later(
    form: int, kernels: float, location_s: float, gap_s: float, factor: float
) -> None:
    """Where they pop briskly at the peak: with hardly a pop in a gap there is no silence to begin after one."""
    assume(kernels * gap_s > 4.0 * location_s)
    assert typical(form, factor * kernels, location_s, gap_s) >= typical(form, kernels, location_s, gap_s) - 1e-9


@given(forms, kernels_drawn, locations_s, gaps_s, st.floats(1.0, 3.0))
def test_a_longer_silence_is_heard_later(
    form: int, kernels: float, location_s: float, gap_s: float, factor: float
) -> None:
    assert typical(form, kernels, location_s, factor * gap_s) >= typical(form, kernels, location_s, gap_s) - 1e-9


@given(forms, st.floats(1e-3, 1e6), st.floats(1.0, 7200.0), st.floats(1e-3, 100.0))
def test_beyond_the_table_there_is_still_an_answer(form: int, kernels: float, location_s: float, gap_s: float) -> None:
    stop_s = typical(form, kernels, location_s, gap_s)
    assert np.isfinite(stop_s)
    assert location_s * 0.5 < stop_s < location_s * 6.0
