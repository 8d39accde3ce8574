"""Many cooks of one simulated oven: its field, air, sensors and rhythm stay, the bags and the kitchen's air change.

The physics is that of tests.simulation, over its wide ranges, which neither the calibration nor the audit assumes.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from service.readings.cook import Cook
from tests.simulation.bag import pop_times_s, steam_let_out
from tests.simulation.drawing import Changes, drawn_parts
from tests.simulation.kernels import FloatArray, drawn_kernels
from tests.simulation.microphone import heard_s
from tests.simulation.oven import STEP_S, Heating, PowerReadings, field_tables, heated, power_readings
from tests.simulation.popcorn_kinds import KINDS, PARTS, WIDE, Recipe
from tests.simulation.sensors import air_temperature_c, cavity_vapour_g_m3, humidity_readings
from tests.simulation.truth import StopWindow, expected_rate, stop_window

LONGEST_S = 660.0
RUNS_ON_S = 50.0
ATTEMPTS = 40
PRINTED_G: Mapping[str, float] = {"snack": 46.0, "regular": 88.0, "jumbo": 118.0}
FILLED = (0.95, 1.05)


class NeverFinished(RuntimeError):
    """An oven in which bags of some size pop on and on, thinly, and come to no end."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BagCooked:
    """One bag in the oven: what the sensors read long past the end, and the truth (cook clock, s)."""

    cook: Cook
    size: str
    printed_g: float
    rated_w: float
    kernels: int
    window: StopWindow
    opened_s: float
    heating: Heating
    power: PowerReadings
    popped_s: FloatArray
    vapour_g_m3: FloatArray
    until_s: float


def drawn_oven(seed: int, changes: Changes | None = None) -> Recipe:
    """An oven with its sensors; `changes` narrows or moves the ranges of its parts. Its corn and bag are not meant."""
    return Recipe(**drawn_parts(PARTS, WIDE, changes or {}, np.random.default_rng([7, seed])))


def bag_in(oven: Recipe, size: str, seed: int) -> BagCooked:
    """Cook one bag of this size in the oven; bags that never finish are thrown away and drawn again. Raises NeverFinished."""
    for attempt in np.random.SeedSequence([11, seed]).spawn(ATTEMPTS):
        rng, ears = np.random.default_rng(attempt).spawn(2)
        cooked = _cooked(_with_a_bag(oven, size, rng), size, rng, ears)
        if cooked is not None:
            return cooked
    raise NeverFinished(f"no {size} bag of seed {seed} ever finished popping")


def _with_a_bag(oven: Recipe, size: str, rng: np.random.Generator) -> Recipe:
    least, most = (share * PRINTED_G[size] for share in FILLED)
    drawn = drawn_parts(PARTS, WIDE, {"corn": {"load_g": (least, most)}}, rng)
    kitchen = drawn["air"]
    air = replace(oven.air, kitchen_rh_pct=kitchen.kitchen_rh_pct, kitchen_c=kitchen.kitchen_c)
    return replace(oven, corn=drawn["corn"], bag=drawn["bag"], air=air)


def _cooked(recipe: Recipe, size: str, rng: np.random.Generator, ears: np.random.Generator) -> BagCooked | None:
    kernels = drawn_kernels(recipe.corn, rng)
    power = power_readings(recipe.power, LONGEST_S)
    heating = heated(kernels, recipe.oven, power, field_tables(recipe.oven, len(kernels), rng), LONGEST_S)
    window = stop_window(*expected_rate(kernels, heating))
    if window is None or window.latest_s + RUNS_ON_S > float(heating.time_s[-1]):
        return None
    until_s = float(int(window.latest_s + RUNS_ON_S))
    popped_s = pop_times_s(kernels, heating)
    steam = steam_let_out(recipe.bag, kernels, heating, popped_s)
    air_c = air_temperature_c(recipe.air, heating.level)
    vapour = cavity_vapour_g_m3(recipe.air, steam.release_g_s, air_c)
    steps = round(until_s / STEP_S)
    cook = Cook.of(
        pops_s=heard_s(recipe.microphone, popped_s, until_s, ears),
        humidity=humidity_readings(recipe.humidity, vapour[:steps], air_c[:steps], ears),
        power=[(t, level) for t, level in power if t <= until_s],
    )
    return BagCooked(
        cook=cook,
        size=size,
        printed_g=PRINTED_G[size],
        rated_w=recipe.oven.rated_w,
        kernels=len(kernels),
        window=window,
        opened_s=steam.opened_s,
        heating=heating,
        power=power,
        popped_s=np.sort(popped_s[np.isfinite(popped_s)]),
        vapour_g_m3=vapour,
        until_s=until_s,
    )


UNUSUAL: Mapping[str, Changes] = {
    "weak": {"oven": {"rated_w": (800.0, 900.0), "output_share": (0.5, 0.6)}},
    "laggy": {"humidity": {"lag_s": (9.0, 14.0), "mixing_s": (2.0, 4.0)}},
    "turned-away": KINDS["vent-away"],
    "noisy": KINDS["noisy"],
    "duty-cycle": KINDS["duty-cycle"],
}
