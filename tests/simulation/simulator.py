"""One simulated cook from a kind and a seed: what a hub would have posted, and what really happened."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tests.simulation.bag import pop_times_s, steam_let_out
from tests.simulation.hub import as_posted, as_said, as_taken
from tests.simulation.kernels import FloatArray, Kernels, drawn_kernels
from tests.simulation.microphone import heard_s
from tests.simulation.network import Post, Reading
from tests.simulation.oven import (
    STEP_S,
    Heating,
    PowerPlan,
    PowerReadings,
    as_given,
    field_tables,
    heated,
    power_readings,
)
from tests.simulation.popcorn_kinds import Recipe, drawn_recipe
from tests.simulation.posting import (
    RUNS_ON_S,
    SimulatedCook,
    attempts,
    humidity_posted,
    posts,
    power_posted,
    setup_of,
)
from tests.simulation.sensors import air_temperature_c, cavity_vapour_g_m3, humidity_readings
from tests.simulation.truth import GAP_S, StopWindow, expected_rate, stop_window

LONGEST_S = 660.0
LEAST_PEAK_PER_S = 3.0
LONGEST_WINDOW_S = 110.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cooked:
    """A bag that was heated: the physics, before any sensor."""

    recipe: Recipe
    kernels: Kernels
    heating: Heating
    power: PowerReadings
    popped_s: FloatArray
    window: StopWindow


def simulate(kind: str, seed: int, network: bool, *, wide: bool = False) -> SimulatedCook:
    """Simulate one cook. The same kind and seed give the same cook, whether or not it crosses the network.

    Bags that never finish popping are thrown away and drawn again. Raises KeyError for an unknown kind.
    """
    for attempt in attempts(kind, seed):
        physics, sensors, link = np.random.default_rng(attempt).spawn(3)
        cooked = _cooked(kind, physics, wide)
        if cooked is not None:
            log, truth = _observed(cooked, sensors, link if network else None)
            return SimulatedCook(kind=kind, seed=seed, network=network, log=log, truth=truth)
    raise RuntimeError(f"no {kind} cook of seed {seed} ever finished popping")


def _cooked(kind: str, rng: np.random.Generator, wide: bool) -> _Cooked | None:
    """Heat one drawn bag; None when the oven is too weak for it to finish."""
    recipe = drawn_recipe(kind, rng, wide=wide)
    kernels = drawn_kernels(recipe.corn, rng)
    power = power_readings(recipe.power, LONGEST_S)
    fields = field_tables(recipe.oven, len(kernels), rng)
    heating = heated(kernels, recipe.oven, as_given(recipe.power, power), fields, LONGEST_S)
    if recipe.power.pause_at_popped > 0.0:
        power = power_readings(_paused(recipe.power, heating), LONGEST_S)
        heating = heated(kernels, recipe.oven, power, fields, LONGEST_S)
    window = stop_window(*expected_rate(kernels, heating), recipe.hub.gap_s or GAP_S)
    if window is None or not _worth_cooking(window, float(heating.time_s[-1])):
        return None
    popped_s = pop_times_s(kernels, heating)
    return _Cooked(recipe=recipe, kernels=kernels, heating=heating, power=power, popped_s=popped_s, window=window)


def _paused(plan: PowerPlan, unpaused: Heating) -> PowerPlan:
    """The plan with its pause at the moment at which its share had popped without one."""
    popped = unpaused.expected_popped
    at_s = float(np.interp(plan.pause_at_popped * popped[-1], popped, unpaused.time_s))
    return replace(plan, pause_at_s=at_s)


def _worth_cooking(window: StopWindow, until_s: float) -> bool:
    """Whether the bag popped at all briskly, and came to an end that someone would wait for."""
    ends = window.latest_s - window.earliest_s < LONGEST_WINDOW_S and window.latest_s + RUNS_ON_S <= until_s
    return ends and window.peak_rate_per_s >= LEAST_PEAK_PER_S


def _observed(
    cooked: _Cooked, sensors: np.random.Generator, link: np.random.Generator | None
) -> tuple[list[Post], dict[str, Any]]:
    """What the sensors saw of a cook, posted over a clean link where none is drawn; and the truth."""
    until_s = float(int(cooked.window.latest_s + RUNS_ON_S))
    hub = cooked.recipe.hub
    readings, opened_s = _readings(cooked, until_s, sensors)
    head = as_said(hub, _head(cooked, sensors))
    bad = None if link is None else (cooked.recipe.link, link)
    log = posts(as_taken(hub, readings), head, float(int(until_s - hub.starts_late_s)), bad)
    return as_posted(hub, log), _truth(cooked, opened_s, until_s)


def _readings(cooked: _Cooked, until_s: float, rng: np.random.Generator) -> tuple[list[Reading], float]:
    """All readings, and when the bag opened."""
    recipe = cooked.recipe
    steam = steam_let_out(recipe.bag, cooked.kernels, cooked.heating, cooked.popped_s)
    steps = round(until_s / STEP_S)
    air_c = air_temperature_c(recipe.air, cooked.heating.level)
    vapour = cavity_vapour_g_m3(recipe.air, steam.release_g_s, air_c, around=recipe.surroundings)
    kitchen_steam = recipe.surroundings.kitchen_steam_g_m3(len(vapour))
    humid, ear, fault = rng.spawn(3)
    switched_s = [t for t, _ in cooked.power[1:]]
    heard = heard_s(recipe.microphone, cooked.popped_s, until_s, ear, switched_s)
    readings: list[Reading] = [(t, "pops", t) for t in heard.tolist()]
    humidity = humidity_readings(recipe.humidity, vapour[:steps], air_c[:steps], humid, kitchen_steam[:steps])
    readings += humidity_posted(recipe.faults.befall(humidity, steam.opened_s, fault))
    return readings + power_posted(recipe.power, cooked.power), steam.opened_s


def _head(cooked: _Cooked, rng: np.random.Generator) -> Post:
    """What the first post says besides its readings: half of the hubs know the oven and the bag."""
    known, rounded = rng.random(2)
    head: Post = {"program": "popcorn"}
    if known < 0.5:
        head["setup"] = setup_of(cooked.recipe.oven.rated_w, cooked.recipe.corn.load_g, rounded)
    return head


def _truth(cooked: _Cooked, opened_s: float, until_s: float) -> dict[str, Any]:
    """What really happened, in plain numbers; the names of the window are those of recorded logs."""
    window, late_s = cooked.window, cooked.recipe.hub.starts_late_s
    popped = np.sort(cooked.popped_s[cooked.popped_s < until_s])
    return {
        "stop_window_s": [round(window.earliest_s - late_s, 2), round(window.latest_s - late_s, 2)],
        "typical_first_two_second_silence_s": round(window.typical_s - late_s, 2),
        "kernels": len(cooked.kernels),
        "never_pop": len(cooked.kernels) - len(popped),
        "true_pops_s": np.round(popped - late_s, 3).tolist(),
        "bag_opened_s": round(opened_s - late_s, 2),
        "peak_s": round(window.peak_s - late_s, 2),
        "peak_rate_per_s": round(window.peak_rate_per_s, 3),
        "load_g": round(cooked.recipe.corn.load_g, 1),
        "rated_w": round(cooked.recipe.oven.rated_w),
    }
