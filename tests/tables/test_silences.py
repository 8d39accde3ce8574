"""Silences amid the popping, in which a microphone was deaf for a while."""

import numpy as np
import pytest
from scipy import stats

from service.evidence.popping import WHOLE, Memory, heard_pops, pop_likelihood
from service.evidence.silences import silences_amid_popping
from service.forecast.bag_prior import bag_prior
from service.forecast.popcorn_model import popcorn_model
from service.readings.cook import Cook
from tests.cooks import POPCORN, FloatArray, ask, drawn_pops_s, first_stop, told, whole

MODEL = popcorn_model(POPCORN)
PRIOR = bag_prior(MODEL.programme, MODEL.grid, None, None).pops
GOOD_S = (128.0, 135.5)
"""Good stops of `drawn_pops_s(420, 100.0, 14.0)`: from 1.2 pops a second down to one in two seconds."""
POWER = [(0.0, 0.0), (1.0, 1.0)]
"""A hub that tells when the magnetron is switched."""


def deaf(seed: int, from_s: float, until_s: float) -> FloatArray:
    pops_s = drawn_pops_s(420, 100.0, 14.0, seed=seed)
    heard: FloatArray = pops_s[(pops_s < from_s) | (pops_s > until_s)]
    return heard


@pytest.mark.parametrize(("from_s", "until_s"), [(82.0, 100.0), (90.0, 94.0), (95.0, 115.0), (105.0, 117.0)])
def test_a_stretch_in_which_nothing_was_heard_amid_brisk_popping_is_found(from_s: float, until_s: float) -> None:
    for seed in range(6):
        (found,) = (one for one in silences_amid_popping(deaf(seed, from_s, until_s)) if one.is_certain)
        assert from_s - 1.5 <= found.begun_s <= from_s
        assert until_s <= found.ended_s <= until_s + 1.5


@pytest.mark.parametrize("kind", ["regular", "snack", "noisy", "missed", "coated", "mic-dies", "late-bursts"])
def test_no_bag_falls_silent_like_that(kind: str) -> None:
    for seed in range(3):
        pops_s = whole(kind, seed).pops_ms / 1000.0
        heard = [pops_s[pops_s <= t] for t in np.arange(40.0, 200.0, 2.0)]
        assert not any(one.is_certain for pops in heard for one in silences_amid_popping(pops))


@pytest.mark.parametrize("pops_s", [[], [3.0], np.arange(14.0), np.arange(0.0, 200.0, 5.0)])
def test_few_or_seldom_pops_have_none(pops_s: FloatArray) -> None:
    assert silences_amid_popping(np.asarray(pops_s)) == []


@pytest.mark.parametrize(("pops", "window_s", "silence_s"), [(20, 4.0, 4.0), (11, 8.0, 20.0)])
def test_its_chance_is_that_of_no_pop_by_a_negative_binomial(pops: int, window_s: float, silence_s: float) -> None:
    """The number in a second stretch, given that in a first at the same unknown rate, as scipy has it."""
    within_s = np.linspace(0.01, window_s - 0.01, pops - 1)
    before_s = np.append(100.0 - window_s + within_s, 100.0)
    after_s = 200.0 + silence_s - before_s[::-1]
    (found,) = silences_amid_popping(np.concatenate((before_s, after_s)))
    assert found.improbable == pytest.approx(-stats.nbinom(pops, window_s / (window_s + silence_s)).logpmf(0))


@pytest.mark.parametrize("memory", [WHOLE, Memory(least_share=0.1, half_pops=20.0, reach=0.15)])
@pytest.mark.parametrize("deaf_u_s", [(70.0, 80.0), (105.0, 120.0), (110.0, 118.0)])
def test_what_could_not_be_heard_takes_its_share_of_what_was_watched(
    memory: Memory, deaf_u_s: tuple[float, float]
) -> None:
    pops_s, until_s, rows = deaf(3, *deaf_u_s), 130.0, slice(70, 90, 1)
    pops_s = pops_s[pops_s < until_s]
    listening = pop_likelihood(MODEL.grid, PRIOR, heard_pops(pops_s, until_s, 0.0, memory), rows)
    heard = heard_pops(pops_s, until_s, 0.0, memory, [deaf_u_s])
    found = pop_likelihood(MODEL.grid, PRIOR, heard, rows)
    edges = np.linspace(np.log(deaf_u_s[0]), np.log(deaf_u_s[1]), 400)
    weight = np.where((edges[1:] + edges[:-1]) / 2.0 < heard.log_earlier, heard.earlier_share, 1.0)
    at = MODEL.grid.columns.cdf_mixed.at
    missed = sum(w * (at(end, rows) - at(begin, rows)) for w, begin, end in zip(weight, edges, edges[1:], strict=False))
    assert listening.exposure - found.exposure == pytest.approx(missed, abs=2e-3)
    assert np.array_equal(found.cdf, listening.cdf)


@pytest.mark.parametrize(("from_s", "until_s"), [(80.0, 97.0), (90.0, 105.0), (95.0, 112.0)])
def test_a_microphone_that_hears_again_is_believed_again_and_stops_in_time(from_s: float, until_s: float) -> None:
    for seed in range(4):
        cook = Cook.of(pops_s=deaf(seed, from_s, until_s), power=POWER)
        assert told(ask(cook, until_s - 1.0), "acoustic")["status"] == "suspect"
        assert told(ask(cook, until_s + 8.0), "acoustic")["status"] == "usable"
        assert GOOD_S[0] - 4.0 <= first_stop(cook, from_s=60.0).as_of_s <= GOOD_S[1] + 4.0
