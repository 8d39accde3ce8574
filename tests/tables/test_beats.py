"""Clicks that keep a beat beside the popping are told from pops, and nothing else is."""

import numpy as np
import pytest
from scipy import stats

from service.evidence.beats import LEAST_BEATS, rayleigh_power, without_beats
from service.readings.cook import Cook
from service.units import IntArray
from tests.cooks import FloatArray, drawn_pops_s, first_stop, simulated, steaming_rows, whole

PEAK_S, OPENED_S = 100.0, 97.0
GOOD_S = (128.0, 135.5)
"""Good stops of `drawn_pops_s(420, PEAK_S, 14.0)`: from 1.2 pops a second down to one in two seconds."""


def clicks_s(every_s: float, from_s: float, until_s: float, jitter_s: float, seed: int) -> FloatArray:
    beat_s = np.arange(from_s, until_s, every_s)
    return beat_s + np.random.default_rng(seed).uniform(-jitter_s, jitter_s, beat_s.size)


def pops_left(cook: Cook, as_of_s: float) -> IntArray:
    seen = cook.until(round(1000.0 * as_of_s))
    return without_beats(seen.pops_ms, round(1000.0 * as_of_s))


@pytest.mark.parametrize("every_s", [0.4, 0.63])
@pytest.mark.parametrize("jitter_s", [0.0, 0.05])
def test_the_clicks_of_a_beat_are_left_out_and_hardly_a_pop_with_them(every_s: float, jitter_s: float) -> None:
    for seed in range(4):
        pops_s = drawn_pops_s(420, PEAK_S, 14.0, seed=seed)
        others_s = clicks_s(every_s, 85.0, 145.0, jitter_s, seed)
        left_s = pops_left(Cook.of(pops_s=np.concatenate((pops_s, others_s))), 145.0) / 1000.0
        pops = np.isin(np.round(pops_s, 3), left_s).mean()
        others = np.isin(np.round(others_s, 3), left_s).mean()
        # Among dense pops the one that lies nearest may be taken for the click beside it.
        assert pops > 0.85
        assert others < 0.35
        # Where hardly anything but the beat is heard there is no doubt.
        assert (left_s > 138.0).sum() <= (pops_s > 138.0).sum() + 1


@pytest.mark.parametrize("kind", ["regular", "noisy", "mic-echo", "duty-cycle", "long-dead-time", "stamps-seconds"])
def test_popping_keeps_no_beat(kind: str) -> None:
    for seed in range(3):
        cook = whole(kind, seed)
        for as_of_s in np.arange(60.0, simulated(kind, seed).log[-1]["as_of"], 5.0):
            seen = cook.until(round(1000.0 * as_of_s))
            assert without_beats(seen.pops_ms, round(1000.0 * as_of_s)) is seen.pops_ms


@pytest.mark.parametrize("every_s", [0.3, 0.5, 1.0])
def test_sounds_in_even_steps_from_the_first_to_the_last_are_left_alone(every_s: float) -> None:
    cook = Cook.of(pops_s=np.arange(60.0, 130.0, every_s))
    assert pops_left(cook, 130.0) is cook.pops_ms


def test_a_beat_is_one_only_after_many_beats() -> None:
    pops_s = drawn_pops_s(420, PEAK_S, 14.0, seed=1)
    few = Cook.of(pops_s=np.concatenate((pops_s, 118.0 + 0.5 * np.arange(LEAST_BEATS - 5))))
    assert np.array_equal(pops_left(few, 131.0), few.until(131_000).pops_ms)


def test_a_power_of_the_spectrum_is_spread_as_the_test_says() -> None:
    """Twice Rayleigh's statistic of times without a phase is chi-squared with two degrees of freedom: scipy has it.

    Mardia and Jupp (2000), Directional Statistics, chapter 6.
    """
    rng = np.random.default_rng(3)
    drawn = [rayleigh_power(rng.integers(0, 30_000, 80, dtype=np.int32))[rng.integers(20, 200)] for _ in range(1500)]
    assert stats.kstest(2.0 * np.array(drawn), stats.chi2(2).cdf).pvalue > 0.01


@pytest.mark.parametrize("every_s", [0.4, 0.5])
def test_a_rattle_that_begins_midway_does_not_put_the_stop_off(every_s: float) -> None:
    """Six seeded bags: within four seconds of the good stops, by the sound, which a beat no longer holds up."""
    steam = Cook.of(humidity=steaming_rows(300.0, released_s=OPENED_S))
    stops = []
    for seed in range(6):
        rattling_s = np.concatenate(
            (drawn_pops_s(420, PEAK_S, 14.0, seed=seed), clicks_s(every_s, 88.0, 300.0, 0.03, seed))
        )
        stops.append(first_stop(Cook.of(pops_s=rattling_s).merged(steam), from_s=60.0))
    assert all(GOOD_S[0] - 4.0 <= stop.as_of_s <= GOOD_S[1] + 4.0 for stop in stops)
    assert all(stop.reasons[0].rule in ("forecast-reached", "silence-heard") for stop in stops)
