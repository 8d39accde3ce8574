"""The exhaust air and the humidity sensor in it.

The fan flushes the cavity with the kitchen's air; vapour over the saturation of the walls condenses on them and dries off
later. The sensor meets that air after a delay and a mixing volume, thinned by air that never passed the bag, and follows
with a first-order lag. It reports relative humidity at its own air temperature, clipped at 100, with noise, drift and a
resolution.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.simulation.kernels import FloatArray
from tests.simulation.oven import STEP_S
from tests.simulation.surroundings import Surroundings

HumidityReadings = list[tuple[float, float, float | None]]
Mask = NDArray[np.bool_]

DOOR_FLUSHES_S = 1.5
DOOR_COOLS_S = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """The cavity's air and the kitchen's."""

    cavity_l: float
    flush_s: float
    kitchen_rh_pct: float
    kitchen_c: float
    warms_by_k: float
    warms_over_s: float
    wall_colder_k: float
    dries_over_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HumiditySensor:
    """Where the sensor sits and how it reads. Probabilities and picks are uniform draws between 0 and 1.

    At `freezes_at_s`, unless that is 0, it fails in the way of `freezes_how`.
    """

    reaches_share: float
    delay_s: float
    mixing_s: float
    lag_s: float
    noise_pct: float
    drift_pct_per_min: float
    coarse: float
    every_two_s: float
    jitter: float
    air_unknown: float
    dead: float
    dead_how: float
    freezes_at_s: float
    freezes_how: float


def saturation_g_m3(temperature_c: FloatArray) -> FloatArray:
    """Vapour density of saturated air (Antoine's equation for 1 to 100 degC, constants from memory; 30 degC: 30.3 g/m3)."""
    pressure_pa = 133.322 * np.exp((8.07131 - 1730.63 / (233.426 + temperature_c)) * np.log(10.0))
    density: FloatArray = pressure_pa * 2.16679 / (temperature_c + 273.15)
    return density


def air_temperature_c(air: Air, level: FloatArray, door_open: Mask | None = None) -> FloatArray:
    """Air beside the sensor on the steps: it warms while the magnetron runs, and cools faster through an open door."""
    pulls = _times(air.warms_over_s, DOOR_COOLS_S, door_open, len(level))
    warmer, out = 0.0, []
    for share, over_s in zip(level.tolist(), pulls, strict=True):
        warmer += STEP_S / over_s * (air.warms_by_k * share - warmer)
        out.append(warmer)
    return air.kitchen_c + np.array(out)


def cavity_vapour_g_m3(
    air: Air,
    release_g_s: FloatArray,
    air_c: FloatArray,
    door_open: Mask | None = None,
    around: Surroundings | None = None,
) -> FloatArray:
    """Vapour in the cavity's air on the steps; an open door clears it."""
    inflow = (release_g_s * 1000.0 / air.cavity_l).tolist()
    wall_limit = saturation_g_m3(air_c - air.wall_colder_k).tolist()
    flushes = _times(air.flush_s, DOOR_FLUSHES_S, door_open, len(inflow))
    kitchens = [kitchen_vapour_g_m3(air)] * len(inflow)
    vapour, film, out = kitchens[0], 0.0, []
    if around is not None:
        kitchens = (kitchens[0] + around.kitchen_steam_g_m3(len(inflow))).tolist()
        flushes = (np.array(flushes) / around.fan_speed(len(inflow))).tolist()
        vapour, film = vapour + around.moist_g_m3, around.wet_g_m3
    for gain, limit, flush_s, kitchen in zip(inflow, wall_limit, flushes, kitchens, strict=True):
        dew = max(0.0, vapour - limit) * STEP_S / 3.0
        dried = film * STEP_S / air.dries_over_s if vapour < limit else 0.0
        film += dew - dried
        vapour += STEP_S * (gain - (vapour - kitchen) / flush_s) - dew + dried
        out.append(vapour)
    return np.array(out)


def kitchen_vapour_g_m3(air: Air) -> float:
    """Vapour in the kitchen's air."""
    return float(saturation_g_m3(np.array([air.kitchen_c]))[0]) * air.kitchen_rh_pct / 100.0


def _times(shut_s: float, open_s: float, door_open: Mask | None, steps: int) -> list[float]:
    """A time constant on the steps, another one while the door is open."""
    if door_open is None:
        return [shut_s] * steps
    times: list[float] = np.where(door_open, min(open_s, shut_s), shut_s).tolist()
    return times


def sensed_vapour_g_m3(
    sensor: HumiditySensor, vapour: FloatArray, kitchen_steam_g_m3: FloatArray | float = 0.0
) -> FloatArray:
    """Vapour as the sensor's element has taken it up, on the steps, where so much came into the kitchen's air."""
    thinned = vapour[0] + sensor.reaches_share * (vapour - vapour[0])
    thinned += (1.0 - sensor.reaches_share) * kitchen_steam_g_m3
    steps = np.arange(len(vapour)) * STEP_S
    late = np.interp(steps - sensor.delay_s, steps, thinned)
    return _lagged(_lagged(late, sensor.mixing_s), sensor.lag_s)


def _lagged(signal: FloatArray, lag_s: float) -> FloatArray:
    """A first-order lag, exact for a signal that is constant in each step."""
    pull = 1.0 - float(np.exp(-STEP_S / max(lag_s, 0.05)))
    value, out = float(signal[0]), []
    for target in signal.tolist():
        value += pull * (target - value)
        out.append(value)
    return np.array(out)


def humidity_readings(
    sensor: HumiditySensor,
    vapour: FloatArray,
    air_c: FloatArray,
    rng: np.random.Generator,
    kitchen_steam_g_m3: FloatArray | float = 0.0,
) -> HumidityReadings:
    """What the sensor reports over the steps given."""
    at_s = _sampling_times(sensor, len(vapour) * STEP_S, rng)
    steps_s = (np.arange(len(vapour)) + 1) * STEP_S
    true_c = np.interp(at_s, steps_s, air_c)
    element = np.interp(at_s, steps_s, sensed_vapour_g_m3(sensor, vapour, kitchen_steam_g_m3))
    rh_pct = 100.0 * element / saturation_g_m3(true_c) + sensor.drift_pct_per_min * at_s / 60.0
    rh_pct = np.clip(rh_pct + rng.normal(0.0, sensor.noise_pct, len(at_s)), 0.0, 100.0)
    said_c = np.round(true_c + rng.normal(0.0, 0.1, len(at_s)), 2)
    resolution = 0.5 if sensor.coarse < 0.5 else (0.1 if sensor.coarse < 0.92 else 1.0)
    rh_pct = np.round(np.round(rh_pct / resolution) * resolution, 1)
    if sensor.dead > 0.0:
        return _dead(sensor, at_s, rh_pct, said_c)
    known = sensor.air_unknown < 0.93
    readings = [(t, rh, c if known else None) for t, rh, c in zip(*_plain(at_s, rh_pct, said_c), strict=True)]
    return _frozen(sensor, readings) if sensor.freezes_at_s > 0.0 else readings


def _sampling_times(sensor: HumiditySensor, until_s: float, rng: np.random.Generator) -> FloatArray:
    at_s = np.arange(0.0, until_s, 2.0 if sensor.every_two_s > 0.9 else 1.0)
    if sensor.jitter > 0.85:
        at_s = np.sort(np.clip(at_s + rng.uniform(-0.3, 0.3, len(at_s)), 0.0, None))
    return np.unique(np.round(at_s, 3))


def _dead(sensor: HumiditySensor, at_s: FloatArray, rh_pct: FloatArray, air_c: FloatArray) -> HumidityReadings:
    """A dead sensor: stuck whole, stuck with a live thermometer, pegged at an end, or silent after a while."""
    times, alive, warm = _plain(at_s, rh_pct, air_c)
    if sensor.dead_how < 0.5:
        return [(t, 41.0, 23.0) for t in times]
    if sensor.dead_how < 0.7:
        return [(t, alive[0], c) for t, c in zip(times, warm, strict=True)]
    if sensor.dead_how < 0.85:
        return [(t, 0.0 if sensor.dead_how < 0.78 else 100.0, c) for t, c in zip(times, warm, strict=True)]
    return [(t, rh, c) for t, rh, c in zip(times, alive, warm, strict=True) if t < 20.0]


def _frozen(sensor: HumiditySensor, readings: HumidityReadings) -> HumidityReadings:
    """A sensor that worked until a moment: frozen whole, frozen with a live thermometer, or silent from there on."""
    alive = [one for one in readings if one[0] <= sensor.freezes_at_s]
    after = readings[len(alive) :]
    _, rh_pct, air_c = alive[-1]
    if sensor.freezes_how < 0.4:
        return alive + [(t, rh_pct, air_c) for t, _, _ in after]
    if sensor.freezes_how < 0.7:
        return alive + [(t, rh_pct, c) for t, _, c in after]
    return alive


def _plain(*columns: FloatArray) -> tuple[list[float], ...]:
    return tuple(column.tolist() for column in columns)
