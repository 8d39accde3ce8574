"""When food began to steam, from the vapour density in the exhaust.

Model. Before steam the vapour follows the room's air: it creeps or drifts on a nearly straight line, and a sensor of constant
relative noise sees it. Food lets its steam out over tens of seconds and not at once, so the rise is looked for against that
line, and dated at its beginning.

* Alarm. Each sample is compared with the line through the samples FAR to NEAR seconds before it, in units of its noise, which
  grows with the temperature of the air. What is above the line by more than an allowance goes through a tabular CUSUM
  (service.evidence.cusum) whose decision value is set by the wanted false-alarm length. A deviation counts at most CLIPPED times
  the noise, so that no single bad sample raises the alarm.
* Dating back. The tangent at the steepest few seconds around the alarm is followed down to the level before it. A first-order
  lag leaves that crossing where it was, however slow it is; the transport delay, and the time that steam itself takes to grow,
  are taken off. A slow rise therefore means a badly placed sensor and not a bigger meal.
* An open door clears the air and cools it. Samples from a pause, and from some seconds after it, neither raise the alarm nor
  make the line, which begins anew after them. An alarm that no rise stands behind is passed over.
* Puffs. A rise that all but falls back while the heating goes on is no food that steams. It is left out like a pause.

Range. Samples every 0.2 to 10 s. Where no air temperature is known the air's warming bends the line, so more is allowed.

References. service.evidence.cusum; the dating by tangents is our own.
"""

from dataclasses import dataclass, replace

import numpy as np

from service.evidence.cusum import decision_for_run_length, first_alarm, upper_cusum
from service.evidence.steam import SLOWEST_S, SteamOnset
from service.units import BoolArray, FloatArray, IntArray

CLIPPED = 3.0
_REFERENCE_K = 0.5
_NEAR_S, _FAR_S = 8.0, 50.0
_LEAST_ON_LINE = 6
_LEAST_QUIET = 4
_LEAST_AROUND = 2
_MOST_ALARMS = 6
_UNKNOWN_AIR_ALLOWS = 1.2
# The steepest stretch is looked for around the alarm; the level before it lies well before it.
_BEFORE_S, _AFTER_S, _STRETCH_S = 8.0, 16.0, 6.0
_INTERVALS = 2.5
_LEVEL_FAR_S, _LEVEL_NEAR_S = 50.0, 12.0
_LATELY_S = 4.0
_FALLEN_SHARE = 0.35
_STEPS_STEEPER = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstSteamNumbers:
    """Numbers of a programme for the onset of steam.

    Attributes:
        quiet_s: the first seconds of readings, in which no steam is possible.
        noise_least_pct: relative noise of the sensor below this is not believed.
        rise_least_g_m3: this much above the line is not yet steam.
        creep_g_m3_s: steepest creep that the line follows.
        steep_g_m3_s: least slope at the steepest that is steam.
        false_alarm_s: mean time between false alarms.
        sensor_delay_s: transport delay from the food to the sensor.
        boils_at_once_g_m3: a rise whose slope times its time is more than this is that of a liquid that boils throughout.
        first_growth_s: how much later than the beginning of steam its tangent meets the level before it.
    """

    quiet_s: float
    noise_least_pct: float
    rise_least_g_m3: float
    creep_g_m3_s: float
    steep_g_m3_s: float
    false_alarm_s: float
    sensor_delay_s: float
    boils_at_once_g_m3: float
    first_growth_s: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """Humidity samples in order of time, all of shape (n,).

    Attributes:
        t_s: on the cook clock.
        vapour_g_m3: vapour density.
        humidity_permille: relative humidity in tenths of a per cent.
        is_calm: the door was shut and the air had settled.
        has_air: some reading told the temperature of the air.
        in_rhythm: the heating goes on and off by itself, and the vapour with it.
    """

    t_s: FloatArray
    vapour_g_m3: FloatArray
    humidity_permille: IntArray
    is_calm: BoolArray
    has_air: bool
    in_rhythm: bool = False


def first_steam(samples: Samples, numbers: FirstSteamNumbers, after_s: float = 0.0) -> SteamOnset | None:
    """Onset of the first steam after `after_s`, by what the vapour did since; None with too few samples for a baseline."""
    if samples.t_s.size < _LEAST_QUIET:
        return None
    quiet = max(int(samples.t_s.searchsorted(samples.t_s[0] + numbers.quiet_s)), _LEAST_QUIET)
    samples = replace(samples, is_calm=samples.is_calm & (samples.t_s >= after_s))
    noise_g_m3 = _noise_g_m3(samples, quiet, numbers.noise_least_pct)
    every_s = float(samples.t_s[quiet - 1] - samples.t_s[0]) / (quiet - 1)
    alarm_s, onset_s, slope = _found(samples, noise_g_m3, decision_value(numbers, every_s), numbers) or (
        None,
        None,
        None,
    )
    return SteamOnset(
        baseline_g_m3=_median(samples.vapour_g_m3[:quiet]),
        noise_g_m3=float(noise_g_m3[0]),
        alarm_s=alarm_s,
        onset_s=onset_s,
        slope_g_m3_s=slope,
        creeps=False,
    )


def _found(
    samples: Samples, noise_g_m3: FloatArray, limit: float, numbers: FirstSteamNumbers
) -> tuple[float, float, float] | None:
    """The alarm and the onset (s) and the steepest slope (g/m3/s) of the first alarm that a lasting rise stands behind."""
    deviation = _deviation(samples, noise_g_m3, numbers)
    for _ in range(_MOST_ALARMS):
        alarm = first_alarm(upper_cusum(deviation, _REFERENCE_K), limit)
        if alarm is None:
            return None
        alarm_s = float(samples.t_s[alarm])
        level_g_m3 = level_before_g_m3(samples, alarm_s)
        fallen = _fallen(samples, alarm, level_g_m3)
        if fallen is not None:
            first = int(samples.t_s.searchsorted(alarm_s - _BEFORE_S))
            samples = replace(samples, is_calm=samples.is_calm & ~_between(samples.t_s.size, first, fallen + 1))
            deviation = _deviation(samples, noise_g_m3, numbers)
            continue
        dated = _date(samples, alarm, level_g_m3, numbers)
        if dated is not None:
            return _steeper_later(samples, alarm, numbers, dated[1]) or (alarm_s, *dated)
        over = int(samples.t_s.searchsorted(alarm_s + _AFTER_S))
        deviation[:over] = 0.0
    return None


def _steeper_later(
    samples: Samples, alarm: int, numbers: FirstSteamNumbers, slope_g_m3_s: float
) -> tuple[float, float, float] | None:
    """The same of a later rise beside which the first was but a creep; None where none is that much steeper.

    Nor where it is so steep that all of a liquid boils, which has steamed before.
    """
    first = int(samples.t_s.searchsorted(samples.t_s[alarm] + _AFTER_S))
    disturbed = ~samples.is_calm[alarm:]
    end = alarm + (int(disturbed.argmax()) if disturbed.any() else disturbed.size)
    t, v = samples.t_s[first:end], samples.vapour_g_m3[first:end]
    if samples.in_rhythm or t.size < _LEAST_QUIET:
        return None
    rise, mean_s, _ = _slopes(t - t[0], v - v[0], 2.0 * _STRETCH_S)
    steep = rise > _STEPS_STEEPER * slope_g_m3_s
    if not steep.any():
        return None
    steepest_s = float(t[0] + mean_s[int(rise.argmax())])
    if float(rise.max()) * steepest_s > numbers.boils_at_once_g_m3:
        return None
    again = int(samples.t_s.searchsorted(steepest_s))
    dated = _date(samples, again, level_before_g_m3(samples, steepest_s), numbers)
    return None if dated is None else (steepest_s, *dated)


def _fallen(samples: Samples, alarm: int, level_g_m3: float) -> int | None:
    """The sample at which the rise behind an alarm has all but fallen back, though the air was left alone; None if it has not.

    Food that steams goes on steaming while it is heated. What falls back was a puff, as from a kettle, or a bad sample.
    """
    disturbed = ~samples.is_calm[alarm:]
    end = alarm + (int(disturbed.argmax()) if disturbed.any() else disturbed.size)
    t, above = samples.t_s[alarm:end], samples.vapour_g_m3[alarm:end] - level_g_m3
    sums = np.concatenate(((0.0,), above.cumsum()))
    start = t.searchsorted(t - _LATELY_S, side="right")
    lately = (sums[1:] - sums[start]) / (np.arange(1, t.size + 1) - start)
    fallen = (lately < _FALLEN_SHARE * np.maximum.accumulate(above)) & (t > samples.t_s[alarm] + _LATELY_S)
    return alarm + int(fallen.argmax()) if fallen.any() else None


def _between(size: int, first: int, end: int) -> BoolArray:
    inside = np.zeros(size, dtype=np.bool_)
    inside[first:end] = True
    return inside


def level_before_g_m3(samples: Samples, alarm_s: float) -> float:
    """Vapour density (g/m3) shortly before the alarm, from calm samples where there are some."""
    first, last = samples.t_s.searchsorted((alarm_s - _LEVEL_FAR_S, alarm_s - _LEVEL_NEAR_S)).tolist()
    before = samples.vapour_g_m3[first:last]
    calm = before[samples.is_calm[first:last]]
    if calm.size >= _LEAST_QUIET:
        return _median(calm)
    return _median(before if before.size else samples.vapour_g_m3[: max(last, 1)])


def decision_value(numbers: FirstSteamNumbers, every_s: float = 1.0) -> float:
    """The decision value for samples every so many seconds, of which 1 to 10 are told apart. Slow the first time."""
    return decision_for_run_length(numbers.false_alarm_s / min(max(round(every_s), 1), SLOWEST_S), _REFERENCE_K)


def _median(values: FloatArray) -> float:
    return float(np.sort(values)[(values.size - 1) // 2])


def _noise_g_m3(samples: Samples, quiet: int, least_pct: float) -> FloatArray:
    """Standard deviation (g/m3) of the noise of every sample: that of the relative humidity, at the sample's own temperature."""
    # Second differences are blind to a steady drift and have six times the variance of the samples.
    humidity = samples.humidity_permille[: max(quiet, _LEAST_QUIET)].astype(np.float64)
    bends = np.abs(humidity[2:] - 2.0 * humidity[1:-1] + humidity[:-2])
    noise_permille = max(1.4826 * _median(bends) / np.sqrt(6.0), 10.0 * least_pct)
    noise: FloatArray = samples.vapour_g_m3 * (noise_permille / np.maximum(samples.humidity_permille, 1))
    return np.maximum(noise, 1e-3)


def _deviation(samples: Samples, noise_g_m3: FloatArray, numbers: FirstSteamNumbers) -> FloatArray:
    """How far each sample is above what is not yet steam, in units of the noise; 0 where nothing can be said."""
    above, on_line = _above_line_g_m3(samples, numbers.creep_g_m3_s)
    allowed = numbers.rise_least_g_m3 * (1.0 if samples.has_air else _UNKNOWN_AIR_ALLOWS)
    deviation = np.minimum((above - allowed) / noise_g_m3, CLIPPED)
    too_soon = samples.t_s < samples.t_s[0] + numbers.quiet_s
    deviation[(on_line < _LEAST_ON_LINE) | too_soon | ~samples.is_calm] = 0.0
    return deviation


def _above_line_g_m3(samples: Samples, creep_most: float) -> tuple[FloatArray, FloatArray]:
    """How far each sample is above the line through the calm ones before it, and how many those are."""
    t, weight = samples.t_s - samples.t_s[0], samples.is_calm.astype(np.float64)
    v = samples.vapour_g_m3 - samples.vapour_g_m3[0]
    sums = np.zeros((5, t.size + 1))
    np.cumsum((weight, weight * t, weight * t * t, weight * v, weight * t * v), axis=1, out=sums[:, 1:])
    calm_since = np.maximum.accumulate(np.where(samples.is_calm, 0, np.arange(1, t.size + 1)))
    end = t.searchsorted(t - _NEAR_S)
    # Air that a pause has changed starts a line of its own.
    # Readings that come seldom are held against as many as make a line.
    start = np.minimum(t.searchsorted(t - _FAR_S), np.maximum(end - _LEAST_ON_LINE, 0))
    start = np.minimum(np.maximum(start, calm_since), end)
    count, *moments = sums[:, end] - sums[:, start]
    t_mean, t_square, v_mean, tv_mean = moments / np.maximum(count, 1.0)
    variance = np.maximum(t_square - t_mean * t_mean, 1.0)
    slope = np.minimum(np.maximum((tv_mean - t_mean * v_mean) / variance, -creep_most), creep_most)
    # A line through a few close samples foretells nothing: the shorter it is the less its slope counts.
    slope *= np.minimum(variance / _NEAR_S**2, 1.0)
    return v - v_mean - slope * (t - t_mean), count


def _date(samples: Samples, alarm: int, level_g_m3: float, numbers: FirstSteamNumbers) -> tuple[float, float] | None:
    """Onset (s) and steepest slope (g/m3/s); None while no rise is steep enough."""
    alarm_s = float(samples.t_s[alarm])
    first, last = samples.t_s.searchsorted((alarm_s - _BEFORE_S, alarm_s + _AFTER_S + 1e-9)).tolist()
    first, last = max(min(first, alarm - _LEAST_AROUND), 0), max(last, alarm + 1 + _LEAST_AROUND)
    t, v = samples.t_s[first:last] - alarm_s, samples.vapour_g_m3[first:last] - level_g_m3
    slope, t_mean, v_mean = _slopes(t, v, _STRETCH_S)
    steepest = int(slope.argmax())
    steep = float(slope[steepest])
    if steep < numbers.steep_g_m3_s:
        return None
    crossing_s = float(t_mean[steepest] - v_mean[steepest] / steep)
    crossing_s = alarm_s + min(max(crossing_s, -_LEVEL_NEAR_S), _AFTER_S)
    return max(crossing_s - numbers.sensor_delay_s - numbers.first_growth_s, 0.0), steep


def _slopes(t: FloatArray, v: FloatArray, over_s: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Slope of the line through the few seconds from each sample on, and the middle of its times and values.

    Where there are too few samples for a line it is infinitely far from a rise.
    """
    sums = np.zeros((5, t.size + 1))
    np.cumsum((np.ones_like(t), t, t * t, v, t * v), axis=1, out=sums[:, 1:])
    stretch_s = max(over_s, _INTERVALS * float(t[-1] - t[0]) / max(t.size - 1, 1))
    end = t.searchsorted(t + stretch_s, "right")
    count, *moments = sums[:, end] - sums[:, :-1]
    t_mean, t_square, v_mean, tv_mean = moments / count
    variance = t_square - t_mean * t_mean
    full = (t[end - 1] - t >= stretch_s / 2.0) & (count >= 3.0)
    slope = np.where(full, (tv_mean - t_mean * v_mean) / np.maximum(variance, 1e-6), -np.inf)
    return slope, t_mean, v_mean
