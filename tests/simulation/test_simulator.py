"""The simulated cooks behave as cooks do, and the scorer scores what it says it does."""

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from tests.simulation import SimulatedCook, simulate
from tests.simulation.kernels import FloatArray, drawn_kernels, steam_kpa
from tests.simulation.microphone import counted_s
from tests.simulation.oven import STEP_S, field_tables, heated, level_in_steps, power_readings
from tests.simulation.plain_rules import best_timer_s, first_silence_s, steam_seen_s
from tests.simulation.popcorn_kinds import ALL_KINDS, KINDS, Recipe, drawn_recipe
from tests.simulation.score import outcome, play, score, stop_figures
from tests.simulation.truth import GRID_S, expected_rate, listeners_done, rate_of_pops, stop_window

SEEDS = range(3)


@pytest.fixture(scope="module")
def cooks() -> list[SimulatedCook]:
    """A few cooks of every kind over a clean link."""
    return [simulate(kind, seed, network=False) for kind in KINDS for seed in SEEDS]


def readings_of(cook: SimulatedCook, field: str) -> list[Any]:
    return [reading for post in cook.log for reading in post["readings"].get(field, ())]


def pop_times(recipe: Recipe, watts: float, seed: int) -> FloatArray:
    """When a tenth, a half and nine tenths of one bag are expected to have popped in an oven of this power, in seconds."""
    oven = replace(recipe.oven, rated_w=watts)
    rng = np.random.default_rng(seed)
    kernels = drawn_kernels(recipe.corn, rng)
    heating = heated(kernels, oven, [(0.0, 1.0)], field_tables(oven, len(kernels), rng), 600.0)
    shares = np.array([0.1, 0.5, 0.9])
    times: FloatArray = np.interp(shares * heating.expected_popped[-1], heating.expected_popped, heating.time_s)
    return times


@pytest.mark.parametrize("kind", ["regular", "paused", "mic-dies", "mic-echo"])
@pytest.mark.parametrize("network", [False, True])
def test_the_same_seed_gives_the_same_cook(kind: str, network: bool) -> None:
    assert simulate(kind, 7, network) == simulate(kind, 7, network)
    assert simulate(kind, 7, network).log != simulate(kind, 8, network).log


def test_every_kind_can_be_simulated() -> None:
    for kind in ALL_KINDS:
        assert simulate(kind, 11, network=True).log[0]["program"] == "popcorn"


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(KeyError, match="lentils"):
        simulate("lentils", 1, network=False)


@pytest.mark.parametrize("kind", ALL_KINDS)
def test_a_bad_link_brings_the_same_readings_in_the_end(kind: str) -> None:
    clean, crossed = simulate(kind, 3, network=False), simulate(kind, 3, network=True)
    assert clean.truth == crossed.truth
    for field in ("pops", "humidity", "power"):
        once = [repr(reading) for reading in readings_of(clean, field)]
        assert len(once) == len(set(once))
        assert set(once) == {repr(reading) for reading in readings_of(crossed, field)}


def test_a_bad_link_delays_doubles_and_shuffles() -> None:
    crossed = simulate("regular", 3, network=True)
    pops = readings_of(crossed, "pops")
    steps = np.diff([post["as_of"] for post in crossed.log])
    assert len(pops) > len(set(pops))
    assert pops != sorted(pops)
    assert set(steps) <= {1.0, 2.0, 3.0}
    assert steps.max() > 1.0


def test_every_reading_was_taken_after_the_start_and_before_its_post(cooks: list[SimulatedCook]) -> None:
    for cook in [*cooks, *(simulate(kind, 5, network=True) for kind in KINDS)]:
        for post in cook.log:
            taken = [*post["readings"].get("pops", ())]
            taken += [one["t"] for field in ("humidity", "power") for one in post["readings"].get(field, ())]
            assert all(0.0 <= t <= post["as_of"] for t in taken)


def test_the_stop_window_is_in_order_and_the_log_runs_on_past_it(cooks: list[SimulatedCook]) -> None:
    for cook in cooks:
        earliest_s, latest_s = cook.truth["stop_window_s"]
        typical_s = cook.truth["typical_first_two_second_silence_s"]
        assert cook.truth["peak_s"] < earliest_s < typical_s < latest_s + 2.0
        assert earliest_s < latest_s
        assert latest_s + 38.0 < cook.log[-1]["as_of"] <= latest_s + 40.0


def test_about_as_many_kernels_pop_as_are_expected_to() -> None:
    """Summed over cooks, the integral of the expected rate is the number of pops, within the luck of the draw."""
    expected = popped = 0.0
    for seed in range(12):
        rng = np.random.default_rng(seed)
        recipe = drawn_recipe("regular", rng)
        kernels = drawn_kernels(recipe.corn, rng)
        heating = heated(kernels, recipe.oven, [(0.0, 1.0)], field_tables(recipe.oven, len(kernels), rng), 400.0)
        rate, _ = expected_rate(kernels, heating)
        expected += float(rate.sum()) * GRID_S
        hottest = kernels.pressure_kpa(heating.hottest_c[-1])
        popped += float(np.sum((hottest >= kernels.bears_kpa) & kernels.whole))
    assert popped == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("seed", range(4))
def test_a_weaker_oven_pops_later_and_wider(seed: int) -> None:
    recipe = drawn_recipe("regular", np.random.default_rng(seed))
    strong, weak = pop_times(recipe, 1200.0, seed), pop_times(recipe, 700.0, seed)
    assert np.all(weak > strong)
    assert weak[2] - weak[0] > 1.3 * (strong[2] - strong[0])


def test_most_whole_kernels_pop_near_180_degrees() -> None:
    """Virot & Ponomarenko 2015, J. R. Soc. Interface 12:20141247: about 180 degC pops almost all."""
    recipe = drawn_recipe("regular", np.random.default_rng(1))
    kernels = drawn_kernels(recipe.corn, np.random.default_rng(1))
    share = [float(kernels.chance_popped(np.full(len(kernels), t)).sum() / kernels.whole.sum()) for t in (150.0, 195.0)]
    assert share[0] < 0.05
    assert share[1] > 0.9


@pytest.mark.parametrize(("temperature_c", "kpa"), [(177.0, 935.47), (180.0, 1002.81)])
def test_steam_pressure_follows_the_saturation_curve(temperature_c: float, kpa: float) -> None:
    """Reference values computed with CoolProp; Hoseney et al. 1983 give 135 psi (931 kPa) at 177 degC."""
    assert float(steam_kpa(np.array([temperature_c]))[0]) == pytest.approx(kpa, rel=0.01)


def test_nothing_pops_while_the_magnetron_is_off() -> None:
    cook = simulate("duty-cycle", 2, network=False)
    power = readings_of(cook, "power")
    pops = np.array(cook.truth["true_pops_s"])
    for off, on in pairwise(power):
        if off["level"] == 0.0:
            assert not np.any((pops > off["t"] + STEP_S) & (pops < on["t"] - STEP_S))


def test_the_level_of_a_step_is_its_mean_over_the_step() -> None:
    levels = level_in_steps([(0.0, 1.0), (0.75, 0.0), (1.5, 0.6)], np.array([0.0, 0.5, 1.0, 1.5, 2.0]))
    assert levels == pytest.approx([1.0, 0.5, 0.0, 0.6])


def test_a_duty_cycled_oven_gives_its_share_of_heat() -> None:
    recipe = drawn_recipe("duty-cycle", np.random.default_rng(4))
    plan = recipe.power
    readings = power_readings(plan, 600.0)
    edges = np.array([max(plan.fan_first_s, 0.0), max(plan.fan_first_s, 0.0) + 10 * plan.cycle_s])
    assert level_in_steps(readings, edges)[0] == pytest.approx(plan.cycle_on_share, abs=0.01)


def test_the_two_kinds_of_counter_differ_as_they_should() -> None:
    sounds = np.array([0.0, 0.03, 0.06, 0.09, 0.3])
    assert counted_s(sounds, 0.05, paralysable=False).tolist() == [0.0, 0.06, 0.3]
    assert counted_s(sounds, 0.05, paralysable=True).tolist() == [0.0, 0.3]


def test_a_constant_rate_is_heard_out_as_fast_as_its_hazard_says() -> None:
    """At a constant rate r the hazard of a silence of g is r exp(-r g): the closed form, delayed by g."""
    rate, gap_s = 1.0, 2.0
    done = listeners_done(np.full(400, rate), 0, gap_s)
    at_s = 60.0
    assert done[round(at_s / GRID_S)] == pytest.approx(
        1.0 - np.exp(-rate * np.exp(-rate * gap_s) * (at_s - gap_s)), abs=0.01
    )
    assert done[round(gap_s / GRID_S) - 1] == 0.0


def test_a_window_can_be_told_from_many_listeners() -> None:
    """Listeners simulated one by one to a known rate hear their silence when the formula says they do.

    Those still waiting have heard more pops than usual, which the hazard leaves out: they are about 1 s ahead of it.
    """
    grid: FloatArray = np.arange(0.0, 120.0, GRID_S)
    rate: FloatArray = 12.0 * np.exp(-0.5 * ((grid - 50.0) / 14.0) ** 2)
    window = stop_window(rate, grid)
    assert window is not None
    rng = np.random.default_rng(5)
    heard = []
    for _ in range(600):
        pops = np.append(grid[rng.random(len(grid)) < 1.0 - np.exp(-rate * GRID_S)] + rng.random() * GRID_S, 200.0)
        after = pops[pops > window.peak_s]
        gaps = np.flatnonzero(np.diff(after) >= 2.0)
        heard.append(after[gaps[0]] + 2.0)
    assert np.median(heard) == pytest.approx(window.typical_s - 1.0, abs=0.8)
    assert np.quantile(heard, 0.1) == pytest.approx(window.earliest_s - 0.5, abs=1.0)


def test_true_pops_alone_give_nearly_the_same_window(cooks: list[SimulatedCook]) -> None:
    errors = []
    for cook in cooks:
        if cook.kind in ("duty-cycle", "paused"):
            continue
        pops = np.array(cook.truth["true_pops_s"])
        rate = rate_of_pops(pops, pops[-1] + 30.0, 4.0)
        grid: FloatArray = np.arange(0.0, len(rate)) * GRID_S
        window = stop_window(rate, grid)
        assert window is not None
        errors.append(window.typical_s - cook.truth["typical_first_two_second_silence_s"])
    assert abs(np.median(errors)) < 1.5
    assert np.median(np.abs(errors)) < 3.0


def test_the_cooks_are_of_a_plausible_size(cooks: list[SimulatedCook]) -> None:
    """Invented bounds about a cook whose first pops come within a minute or two, and peak at some ten a second."""
    assert 45.0 < np.median([cook.truth["true_pops_s"][0] for cook in cooks]) < 120.0
    assert 6.0 < np.median([cook.truth["peak_rate_per_s"] for cook in cooks]) < 20.0
    damp = [max((one["rh_pct"] for one in readings_of(cook, "humidity")), default=0.0) for cook in cooks]
    assert np.mean(np.array(damp) > 95.0) > 0.2


def test_the_plain_rules_leave_room_above_them(cooks: list[SimulatedCook]) -> None:
    scored = score([outcome(cook, []) for cook in cooks])["kinds"]["all"]
    assert 0.4 < scored["silence_in_window"] < 0.85
    assert 0.5 < scored["steam_in_window"] < 0.9
    assert 0.1 < scored["timer_in_window"] < 0.6
    assert max(scored["silence_in_window"], scored["steam_in_window"]) < scored["sketch_in_window"] < 0.98


def test_a_decider_that_stops_at_the_typical_moment_scores_full_marks() -> None:
    cook = simulate("regular", 4, network=False)
    typical_s = cook.truth["typical_first_two_second_silence_s"]

    def oracle(request: Any, state: Any) -> dict[str, Any]:
        left = max(0.0, typical_s - request["as_of"])
        remaining = {"estimate_s": left, "low_s": left - 3.0, "high_s": left + 3.0}
        verdict = "continue" if left > 0.0 else "stop"
        return {"decision": verdict, "as_of": request["as_of"], "remaining": remaining, "state": (state or 0) + 1}

    row = score([outcome(cook, play(cook, oracle))])["kinds"]["regular"]
    assert (row["in_window"], row["far_misses"], row["never_stopped"]) == (1.0, 0.0, 0.0)
    assert row["interval_holds_stop"] == row["forecast_ahead"] == 1.0
    assert row["ahead_error_median_s"] <= 1.0


@pytest.mark.parametrize(
    ("offset_s", "in_window", "no_grace", "far", "early", "late"),
    [
        (0.5, 1.0, 1.0, 0.0, 0.0, 0.0),
        (-3.5, 1.0, 0.0, 0.0, 0.0, 0.0),
        (-4.5, 0.0, 0.0, 0.0, 1.0, 0.0),
        (-15.5, 0.0, 0.0, 1.0, 1.0, 0.0),
        (200.0, 0.0, 0.0, 1.0, 0.0, 1.0),
    ],
)
def test_a_stop_is_scored_by_its_distance_from_the_window(
    offset_s: float, in_window: float, no_grace: float, far: float, early: float, late: float
) -> None:
    one = outcome(simulate("snack", 1, network=False), [])
    row = stop_figures([one], [one.earliest_s + offset_s])
    assert (row["in_window"], row["in_window_no_grace"], row["far_misses"]) == (in_window, no_grace, far)
    assert (row["early"], row["late"]) == (early, late)


def test_a_cook_that_is_never_stopped_counts_as_stopped_at_the_end_of_its_log() -> None:
    one = outcome(simulate("snack", 1, network=False), [])
    row = stop_figures([one], [None])
    assert row["never_stopped"] == 1.0
    assert row["far_misses"] == row["late"] == 1.0


def test_the_plain_rules_read_the_posts_as_they_come() -> None:
    posts: list[dict[str, Any]] = [{"as_of": float(t), "readings": {"pops": [t - 0.5]}} for t in range(1, 13)]
    posts += [
        {"as_of": float(t), "readings": {"humidity": [{"t": float(t), "rh_pct": 30.0 + t}]}} for t in range(13, 20)
    ]
    assert first_silence_s(posts) == 14.0
    assert steam_seen_s(posts) == 17.0
    assert first_silence_s(posts[:5]) is None
    assert steam_seen_s(posts[:12]) is None


def test_the_best_timer_lies_in_the_windows_that_overlap() -> None:
    assert 100.0 <= best_timer_s([(100.0, 110.0), (104.0, 120.0), (300.0, 310.0)]) <= 114.0
