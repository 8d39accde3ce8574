"""What a microphone and a humidity sensor read of an invented bag. All numbers are invented.

Model. The microphone misses pops, is blind for a while after each that it hears, and takes other sounds for pops. Steam is
carried off by the fan; the sensor sees it late, through a first-order lag, in air that warms.
"""

import numpy as np

from service.invented.bag import STEP_S, Bag
from service.invented.kinds import Drawn
from service.units import FloatArray, vapour_density_g_m3

_CAVITY_M3, _FLUSH_S, _WARMS_OVER_S = 0.03, 8.0, 150.0
_HUMIDITY_EVERY_S = 1.0


def heard_s(drawn: Drawn, bag: Bag, until_s: float, rng: np.random.Generator) -> list[float]:
    """When the microphone heard something, in order, to the millisecond."""
    sounds = [bag.popped_s[rng.random(bag.popped_s.size) >= drawn.missed_share]]
    if drawn.missed_share < 1.0:
        sounds.append(rng.uniform(0.0, until_s, rng.poisson(drawn.clutter_per_s * until_s)))
        for _ in range(round(drawn.stray_bursts)):
            begins_s = rng.uniform(0.0, 0.5 * float(bag.popped_s[0]))
            sounds.append(begins_s + rng.uniform(0.0, 3.0, rng.integers(2, 7)))
    dies_s = drawn.dies_at_share * float(np.median(bag.popped_s))
    times_s = np.sort(np.concatenate(sounds))
    kept: list[float] = []
    for t in times_s[(times_s <= until_s) & (times_s < dies_s)].tolist():
        if not kept or t - kept[-1] >= drawn.dead_time_s:
            kept.append(round(t, 3))
    return kept


def humidity(drawn: Drawn, bag: Bag, until_s: float, rng: np.random.Generator) -> list[tuple[float, float, float]]:
    """Readings once a second: (t, relative humidity in %, air temperature in degrees Celsius)."""
    steps = round(until_s / STEP_S) + 1
    steps_s = np.arange(steps) * STEP_S
    air_c = drawn.kitchen_c + drawn.warms_by_k * (1.0 - np.exp(-steps_s / _WARMS_OVER_S))
    kitchen_g_m3 = float(vapour_density_g_m3(drawn.kitchen_rh_pct, drawn.kitchen_c))
    cavity = kitchen_g_m3 + drawn.reaches_share * _flushed(bag.steam_g_s[:steps])
    late = np.concatenate((np.full(round(drawn.delay_s / STEP_S), kitchen_g_m3), cavity))[:steps]
    seen = _lagged(late, drawn.lag_s)
    rh_pct = 100.0 * seen / vapour_density_g_m3(100.0, air_c)
    at = np.arange(0, steps, round(_HUMIDITY_EVERY_S / STEP_S))
    noisy_pct = np.clip(rh_pct[at] + drawn.rh_noise_pct * rng.standard_normal(at.size), 0.0, 100.0)
    return [
        (float(t), round(float(rh), 1), round(float(c), 1))
        for t, rh, c in zip(steps_s[at], noisy_pct, air_c[at], strict=True)
    ]


def _flushed(steam_g_s: FloatArray) -> FloatArray:
    """Vapour in the cavity (g/m3) over that of the kitchen."""
    return _lagged(steam_g_s / _CAVITY_M3 * _FLUSH_S, _FLUSH_S)


def _lagged(values: FloatArray, lag_s: float) -> FloatArray:
    kept = float(np.exp(-STEP_S / lag_s))
    seen, state = np.empty_like(values), float(values[0])
    for place, value in enumerate(values.tolist()):
        state = kept * state + (1.0 - kept) * value
        seen[place] = state
    return seen
