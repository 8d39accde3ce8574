"""One simulated reheat from a kind and a seed: what a hub would have posted, and what really happened."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.simulation.heating_food import FoodOnDish, Kitchen
from tests.simulation.kernels import FloatArray
from tests.simulation.meals import laid_out
from tests.simulation.network import Post, Reading
from tests.simulation.oven import STEP_S, PowerPlan, PowerReadings, level_in_steps, power_readings
from tests.simulation.posting import (
    RUNS_ON_S,
    SimulatedCook,
    attempts,
    humidity_posted,
    posts,
    power_posted,
    setup_of,
)
from tests.simulation.reheat_kinds import ReheatRecipe, drawn_reheat
from tests.simulation.reheat_truth import Milestones
from tests.simulation.sensors import (
    Mask,
    air_temperature_c,
    cavity_vapour_g_m3,
    humidity_readings,
    kitchen_vapour_g_m3,
)

LONGEST_S = 900.0
# Steam at 100 degC warms the cubic metre of air that it joins by about this much a gram.
STEAM_WARMS_K_G_M3 = 0.1
WIDTH_SHARES = (0.2, 0.65)
LATEST_SAFE_OVER_STEAM = 2.2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Reheated:
    """A meal that was heated: the physics, before any sensor."""

    recipe: ReheatRecipe
    power: PowerReadings
    level: FloatArray
    door_open: Mask
    out_g_s: FloatArray
    steam_began_s: float
    safe_s: float
    dry_s: float


def simulate_reheat(
    kind: str, seed: int, network: bool, *, says_setup: bool | None = None, wide: bool = False
) -> SimulatedCook:
    """Simulate one reheat. The same kind and seed give the same cook, whether or not it crosses the network.

    The log says the oven's rating and the load if asked to; unless told, the cooks that cross the network do. Meals without a
    good moment to stop are thrown away and drawn again. Raises KeyError for an unknown kind.
    """
    says = network if says_setup is None else says_setup
    for attempt in attempts(f"reheat {kind}", seed):
        physics, sensors, link = np.random.default_rng(attempt).spawn(3)
        reheated = _reheated(drawn_reheat(kind, physics, wide=wide), physics)
        if reheated is not None:
            log = _log(reheated, sensors, link if network else None, says=says)
            return SimulatedCook(kind=kind, seed=seed, network=network, log=log, truth=_truth(reheated))
    raise RuntimeError(f"no {kind} reheat of seed {seed} had a good moment to stop")


def _reheated(recipe: ReheatRecipe, rng: np.random.Generator) -> _Reheated | None:
    """Heat one meal until the log may end; None when it had no good moment to stop."""
    power = power_readings(recipe.power, LONGEST_S)
    edges_s = np.arange(0.0, LONGEST_S + STEP_S, STEP_S)
    level, door_open = level_in_steps(power, edges_s), _door_open(recipe.power, edges_s[1:])
    milestones, out_g_s = _heated(recipe, level, door_open, rng)
    began_s, safe_s, dry_s = milestones.steam_began_s, milestones.safe_s, milestones.dry_s
    if began_s is None or safe_s is None or dry_s is None or safe_s > LATEST_SAFE_OVER_STEAM * began_s:
        return None
    if not WIDTH_SHARES[0] <= dry_s / safe_s - 1.0 <= WIDTH_SHARES[1]:
        return None
    steps = len(out_g_s)
    return _Reheated(
        recipe=recipe,
        power=power,
        level=level[:steps],
        door_open=door_open[:steps],
        out_g_s=out_g_s,
        steam_began_s=began_s,
        safe_s=safe_s,
        dry_s=dry_s,
    )


def _door_open(plan: PowerPlan, time_s: FloatArray) -> Mask:
    """Whether the door stood open in each step: it does for the whole of a pause."""
    return (time_s > plan.pause_at_s) & (time_s <= plan.pause_at_s + plan.pause_s)


def _heated(
    recipe: ReheatRecipe, level: FloatArray, door_open: Mask, rng: np.random.Generator
) -> tuple[Milestones, FloatArray]:
    """What happened when, and the vapour that got out on the steps, up to the end of the log."""
    meal, layers = recipe.meal, laid_out(recipe.meal, rng)
    kitchen = Kitchen(air_c=recipe.air.kitchen_c, vapour_g_m3=kitchen_vapour_g_m3(recipe.air))
    food = FoodOnDish(meal, layers, recipe.magnetron, recipe.cover, kitchen)
    edges_g = sum(piece.mass_g[0] for piece in layers)
    milestones = Milestones(spare_g=meal.bears_loss_share * meal.water_share * edges_g)
    out_g_s: list[float] = []
    was_open = False
    for step, (share, is_open) in enumerate(zip(level.tolist(), door_open.tolist(), strict=True)):
        at_s = (step + 1) * STEP_S
        if is_open and not was_open:
            food.stir()
        food.step(share, at_s, door_open=is_open)
        milestones.note(at_s, food.coldest_c, food.boiled_g_s, food.lost_g)
        out_g_s.append(food.out_g_s)
        was_open = is_open
        if milestones.dry_s is not None and at_s >= milestones.dry_s + RUNS_ON_S:
            break
    return milestones, np.array(out_g_s)


def _log(
    reheated: _Reheated, sensors: np.random.Generator, link: np.random.Generator | None, *, says: bool
) -> list[Post]:
    """What the sensors saw of a reheat, posted over a clean link where none is drawn."""
    recipe = reheated.recipe
    until_s = float(int(reheated.dry_s + RUNS_ON_S))
    readings: list[Reading] = humidity_posted(_humidity(reheated, sensors))
    readings += power_posted(recipe.power, reheated.power)
    head: Post = {"program": "reheat"}
    rounded = float(sensors.random())
    if says:
        head["setup"] = setup_of(recipe.magnetron.rated_w, recipe.meal.load_g, rounded)
    return posts(readings, head, until_s, None if link is None else (recipe.link, link))


def _humidity(reheated: _Reheated, rng: np.random.Generator) -> list[tuple[float, float, float | None]]:
    """What the humidity sensor reports over the whole log."""
    air = reheated.recipe.air
    dry_c = air_temperature_c(air, reheated.level, reheated.door_open)
    around = reheated.recipe.surroundings
    vapour = cavity_vapour_g_m3(air, reheated.out_g_s, dry_c, reheated.door_open, around)
    air_c = dry_c + STEAM_WARMS_K_G_M3 * (vapour - kitchen_vapour_g_m3(air))
    kitchen_steam = around.kitchen_steam_g_m3(len(vapour))
    readings = humidity_readings(reheated.recipe.humidity, vapour, air_c, rng, kitchen_steam)
    return reheated.recipe.faults.befall(readings, reheated.steam_began_s, rng.spawn(1)[0])


def _truth(reheated: _Reheated) -> dict[str, Any]:
    """What really happened, in plain numbers; the names are those of recorded logs."""
    meal = reheated.recipe.meal
    return {
        "stop_window_s": [round(reheated.safe_s, 2), round(reheated.dry_s, 2)],
        "core_at_74c_s": round(reheated.safe_s, 2),
        "steam_began_s": round(reheated.steam_began_s, 2),
        "load_g": round(meal.load_g, 1),
        "start_c": round(meal.start_c, 1),
        "rated_w": round(reheated.recipe.magnetron.rated_w),
    }
