"""Pops that a hub writes down in whole steps of time: what is told of a step is whether it held any."""

import numpy as np
import pytest

from service.evidence.pop_grid import CLUTTER_SPAN, LOG_LOWEST
from service.evidence.pop_times import BINS, LOWEST, STEP
from service.evidence.popping import WHOLE, heard_pops
from service.evidence.stamps import Steps, rate_in_steps, stamped_likelihood, steps_of
from service.forecast.bag_prior import bag_prior
from service.forecast.popcorn_model import popcorn_model
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from tests.cooks import POPCORN, FloatArray, ask, drawn_pops_s, first_stop, steaming_rows, told, whole

MODEL = popcorn_model(POPCORN)
PRIOR = bag_prior(MODEL.programme, MODEL.grid, None, None).pops
POPS_S = drawn_pops_s(420, 100.0, 14.0, seed=2)


def in_steps(pops_s: FloatArray, step_s: float, offset_s: float = 0.0) -> FloatArray:
    stamped: FloatArray = np.floor((pops_s - offset_s) / step_s) * step_s + offset_s
    return stamped


@pytest.mark.parametrize(
    ("pops_s", "steps"),
    [
        (POPS_S, None),
        (np.round(POPS_S, 2), None),
        (in_steps(POPS_S, 0.1), None),
        (in_steps(POPS_S, 0.5), Steps(500, 0)),
        (in_steps(POPS_S, 1.0), Steps(1000, 0)),
        (in_steps(POPS_S, 1.0, 0.37), Steps(1000, 370)),
        (np.append(in_steps(POPS_S, 1.0), 141.003), None),
        (in_steps(POPS_S, 2.0), None),
        (in_steps(POPS_S, 1.0)[:5], None),
        (np.empty(0), None),
    ],
)
def test_the_steps_are_seen_from_the_times(pops_s: FloatArray, steps: Steps | None) -> None:
    assert steps_of(Cook.of(pops_s=pops_s).pops_ms) == steps


def test_no_other_microphone_is_taken_for_one_that_tells_seconds() -> None:
    for kind in ("regular", "missed", "long-dead-time", "relay-clicks"):
        assert steps_of(whole(kind, 1).pops_ms) is None
    assert steps_of(whole("stamps-seconds", 1).pops_ms) == Steps(1000, 0)


@pytest.mark.parametrize("rate_per_s", [0.3, 1.0, 2.0])
@pytest.mark.parametrize("step_s", [0.5, 1.0])
def test_the_rate_is_that_of_the_pops_and_not_of_the_steps(rate_per_s: float, step_s: float) -> None:
    pops_s = np.random.default_rng(7).uniform(0.0, 4000.0, round(4000.0 * rate_per_s))
    occupied = np.unique(np.floor(pops_s / step_s)).size
    assert rate_in_steps(occupied, 4000.0 / step_s, step_s) == pytest.approx(rate_per_s, rel=0.08)
    assert rate_in_steps(5.0, 5.0, 1.0) > rate_in_steps(4.0, 5.0, 1.0) > rate_in_steps(0.0, 5.0, 1.0) == 0.0


def test_it_is_the_likelihood_of_steps_that_held_a_pop_or_none() -> None:
    """Step by step, the number of pops summed over finely with its Gamma prior; up to what is common to all."""
    until_s = 130.0
    told_ms = Cook.of(pops_s=in_steps(POPS_S[until_s > POPS_S], 1.0)).pops_ms
    heard = heard_pops(told_ms / 1000.0, until_s, 0.0, WHOLE)
    clock = HeatingClock.of(Cook.of(), 130_000)
    found = stamped_likelihood(MODEL.grid, PRIOR, heard, Steps(1000, 0), (told_ms, clock, until_s))
    rows = range(found.first, found.first + len(found.log_likelihood))
    cells = [(row, column) for row in (rows[0], rows[len(rows) // 2], rows[-1]) for column in (3, 6, 9)]
    is_told = np.isin(np.arange(130), told_ms // 1000)
    totals = np.exp(np.linspace(np.log(20.0), np.log(3000.0), 800))
    log_prior = PRIOR.shape * np.log(totals) - PRIOR.rate * totals
    expected = []
    for row, column in cells:
        mean = totals[:, None] * share_of_steps(row, column)
        log_each = np.where(is_told, np.log(-np.expm1(-mean)), -mean).sum(axis=1) + log_prior
        expected.append(log_each.max() + np.log(np.exp(log_each - log_each.max()).sum()))
    got = [found.log_likelihood[row - found.first, column] for row, column in cells]
    assert np.diff(got) == pytest.approx(np.diff(expected), abs=1.0, rel=0.08)


def share_of_steps(location: int, column: int) -> FloatArray:
    """Share of the pops of a column in each of the first 130 seconds."""
    columns, forms = MODEL.grid.columns, MODEL.grid.forms
    clutter, form = float(columns.clutter[column]), int(columns.form[column])
    x = np.log(np.maximum(np.arange(131.0), 1e-6)) - (LOG_LOWEST + STEP * location)
    popped = (1.0 - clutter) * np.interp(x, LOWEST + STEP * np.arange(BINS + 1), forms.cdf[form])
    share: FloatArray = np.diff(popped + clutter * np.minimum(np.exp(x) / CLUTTER_SPAN, 1.0))
    return share


@pytest.mark.parametrize("step_s", [0.5, 1.0])
def test_a_bag_that_is_told_in_steps_is_stopped_as_one_whose_times_are_told(step_s: float) -> None:
    """Eight seeded bags, half of them with steam: within three seconds of each other."""
    for seed in range(8):
        pops_s = drawn_pops_s(420, 100.0, 14.0, seed=seed)
        steam = Cook.of(humidity=steaming_rows(300.0, released_s=97.0)) if seed % 2 else Cook.of()
        stops_s = [
            first_stop(Cook.of(pops_s=told_s).merged(steam), from_s=60.0).as_of_s
            for told_s in (pops_s, in_steps(pops_s, step_s))
        ]
        assert abs(stops_s[1] - stops_s[0]) <= 3.0


def test_a_silence_counts_from_the_end_of_the_step_of_its_last_pop() -> None:
    cook = Cook.of(pops_s=in_steps(POPS_S, 1.0))
    for as_of_s in (126.9, 131.5, 138.0):
        seen = cook.until(round(1000.0 * as_of_s)).pops_ms
        silent_s = as_of_s - POPCORN.number("link_lag_s") - float(seen[-1]) / 1000.0 - 1.0
        assert told(ask(cook, as_of_s), "acoustic")["silence_s"] == pytest.approx(max(silent_s, 0.0))
