"""When steam began, from the vapour density in the exhaust.

Model. Until a bag opens or food boils the vapour follows the room's air, with noise, and may creep up where a bag
seeps. From the onset t0 it rises steeply, seen through a transport delay and a first-order lag.

* Alarm. Each sample is compared with the mean of the samples SETTLED seconds earlier, in units of the noise, less what
  a creep of the steepest allowed slope could have added. The deviations go through a tabular CUSUM
  (service.evidence.cusum) whose decision value is set by the wanted false-alarm length. A deviation counts at most
  CLIPPED times the noise, so that no single bad sample can raise the alarm.
* Puffs. A rise that falls back within seconds is no steam: a cavity's air does not clear so fast. It is left out, and the
  search goes on.
* Dating back. A first-order lag answers a step with a rise that is steepest at once. The tangent at the steepest slope
  is followed down to the line on which the vapour was creeping before; their crossing is where the rise began, however
  slow it was, and the known transport delay is taken off. A slow rise therefore means a badly placed sensor and not a
  bigger bag.

Range. Samples every 0.2 to 10 s; saturated samples end the search for the slope.

References. service.evidence.cusum; the dating by tangents is our own.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import inf, sqrt
from typing import NamedTuple

import numpy as np

from service.evidence.cusum import alarm_index, decision_for_run_length
from service.units import BoolArray, FloatArray

CLIPPED = 3.0
_REFERENCE_K = 0.5
_NEAR_S, _FAR_S = 8.0, 22.0
_SETTLED_S = np.array(((_FAR_S,), (_NEAR_S,)))
_LEAST_SETTLED = 3
SLOWEST_S = 10
_SLOPE_SPAN_S = 2.0
_CLEAR_OF_RISE_S = 4.0
_RISES_WITHIN_S = 4.0
_GAP_S = 15.0
_LEAST_QUIET = 4
_LEAST_BEFORE = 6
_STEPS_STEEPER = 3.0
_PUFF_S = 6.0
_FALLEN_SHARE = 0.25
_MOST_PUFFS = 4
_NOTHING_SHARE = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class SteamNumbers:
    """Numbers of a programme for the onset.

    Attributes:
        quiet_s: the first seconds of readings, in which no steam is possible.
        noise_least_g_m3: noise below this is not believed.
        creep_g_m3_s: steepest creep that is not yet steam.
        steep_g_m3_s: least slope at the steepest that is steam.
        false_alarm_s: mean time between false alarms.
        sensor_delay_s: transport delay from the food to the sensor.
    """

    quiet_s: float
    noise_least_g_m3: float
    creep_g_m3_s: float
    steep_g_m3_s: float
    false_alarm_s: float
    sensor_delay_s: float


class SteamOnset(NamedTuple):
    """What the vapour says; None where it does not say it yet.

    Attributes:
        baseline_g_m3, noise_g_m3: of the quiet beginning.
        alarm_s: when the alarm was raised (cook clock).
        onset_s: when steam began, dated back through lag and delay (cook clock).
        slope_g_m3_s: at the steepest.
        creeps: the vapour rose before the onset more than noise explains, as from a bag that seeps.
        rise_g_m3: how far the vapour has risen since above where it would have crept to; infinite where the sensor has come to
            the end of its scale.
        has_fallen: next to nothing of that is left.
    """

    baseline_g_m3: float
    noise_g_m3: float
    alarm_s: float | None
    onset_s: float | None
    slope_g_m3_s: float | None
    creeps: bool
    rise_g_m3: float | None = None
    has_fallen: bool = False


def steam_onset(
    t_s: FloatArray, vapour_g_m3: FloatArray, saturated: BoolArray, numbers: SteamNumbers
) -> SteamOnset | None:
    """Onset of steam in samples in order of time (s, g/m3); None while there are too few for a baseline."""
    if t_s.size < _LEAST_QUIET:
        return None
    quiet = max(int(t_s.searchsorted(t_s[0] + numbers.quiet_s)), _LEAST_QUIET)
    baseline, noise = _baseline_and_noise(vapour_g_m3[:quiet].tobytes(), numbers.noise_least_g_m3)
    every_s = float(t_s[quiet - 1] - t_s[0]) / (quiet - 1)
    limit_g_m3 = noise * decision_value(numbers, every_s)
    alarm, vapour_g_m3 = _lasting_alarm(t_s, vapour_g_m3, noise, limit_g_m3, numbers.creep_g_m3_s)
    dated = None if alarm is None else _date(t_s, vapour_g_m3, saturated, alarm, numbers)
    onset_s, slope, creep, rise, left = dated if dated else (None, None, 0.0, None, 0.0)
    return SteamOnset(
        baseline_g_m3=baseline,
        noise_g_m3=noise,
        alarm_s=None if alarm is None or onset_s is None else float(t_s[alarm]),
        onset_s=onset_s,
        slope_g_m3_s=slope,
        creeps=creep > numbers.creep_g_m3_s / 4.0,
        rise_g_m3=rise,
        has_fallen=rise is not None and left < _NOTHING_SHARE * rise,
    )


def decision_value(numbers: SteamNumbers, every_s: float = 1.0) -> float:
    """The decision value for samples every so many seconds, of which 1 to 10 are told apart. Slow the first time."""
    interval_s = min(max(round(every_s), 1), SLOWEST_S)
    return decision_for_run_length(numbers.false_alarm_s / interval_s, _REFERENCE_K)


def _median(values: FloatArray) -> float:
    # The lower one of the two in the middle, of values that may be reordered; np.median costs ten times as much.
    values.sort()
    return values.item((values.size - 1) // 2)


# Once it is over the quiet beginning stays as it was, and a log is asked about every second.
@lru_cache(maxsize=64)
def _baseline_and_noise(quiet: bytes, noise_least_g_m3: float) -> tuple[float, float]:
    """Of the quiet beginning, as the bytes of its samples (g/m3)."""
    quiet_g_m3 = np.frombuffer(quiet)
    return _median(quiet_g_m3.copy()), _noise(quiet_g_m3, noise_least_g_m3)


def _noise(quiet_g_m3: FloatArray, least_g_m3: float) -> float:
    # Differences are blind to drift; 1.4826 makes a median deviation a standard deviation, and a difference has two.
    steps = quiet_g_m3[1:] - quiet_g_m3[:-1]
    deviations = steps - _median(steps)
    spread = 1.4826 * _median(np.abs(deviations)) / sqrt(2.0)
    return max(spread, least_g_m3)


def _alarm(
    t_s: FloatArray, vapour_g_m3: FloatArray, noise_g_m3: float, limit_g_m3: float, creep_g_m3_s: float
) -> int | None:
    creep_g_m3 = creep_g_m3_s * (_NEAR_S + _FAR_S) / 2.0
    reference_g_m3 = creep_g_m3 + _REFERENCE_K * noise_g_m3
    # No sample at or below this can move the sum off zero, so the sum begins at the first one that is above.
    above = vapour_g_m3 > vapour_g_m3.item(vapour_g_m3.argmin()) + reference_g_m3
    first = int(above.argmax())
    if not above[first]:
        return None
    sums = np.zeros(vapour_g_m3.size + 1)
    np.add.accumulate(vapour_g_m3, out=sums[1:])
    bounds = t_s.searchsorted(t_s[first:] - _SETTLED_S)
    # Readings that come seldom, or after a gap, are compared with the last few there were.
    np.minimum(bounds[0], np.maximum(bounds[1] - _LEAST_SETTLED, 0), out=bounds[0])
    samples, settled = bounds[1] - bounds[0], sums.take(bounds)
    too_few = samples < _LEAST_SETTLED
    if any_too_few := bool(too_few[too_few.argmax()]):
        np.maximum(samples, 1, out=samples)
    rise = vapour_g_m3[first:] - (settled[1] - settled[0]) / samples
    np.minimum(rise, creep_g_m3 + CLIPPED * noise_g_m3, out=rise)
    if any_too_few:
        rise[too_few] = creep_g_m3
    alarm = alarm_index(rise.tolist(), reference_g_m3, limit_g_m3)
    return None if alarm is None else first + alarm


def _lasting_alarm(
    t_s: FloatArray, vapour_g_m3: FloatArray, noise_g_m3: float, limit_g_m3: float, creep_g_m3_s: float
) -> tuple[int | None, FloatArray]:
    """The first alarm whose rise has not fallen back at once, and the vapour without those that have."""
    for _ in range(_MOST_PUFFS):
        alarm = _alarm(t_s, vapour_g_m3, noise_g_m3, limit_g_m3, creep_g_m3_s)
        over = None if alarm is None else _puff(t_s, vapour_g_m3, alarm)
        if over is None:
            return alarm, vapour_g_m3
        first, end, level = over
        vapour_g_m3 = vapour_g_m3.copy()
        vapour_g_m3[first:end] = level
    return None, vapour_g_m3


def _puff(t_s: FloatArray, vapour_g_m3: FloatArray, alarm: int) -> tuple[int, int, float] | None:
    """A rise that has all but fallen back within seconds: its first sample, the one after its last, the level before.

    The air of a cavity into which a bag or food lets out steam does not clear as fast as that.
    """
    first = int(t_s.searchsorted(t_s[alarm] - _PUFF_S))
    end = int(t_s.searchsorted(t_s[alarm] + _PUFF_S, side="right"))
    level = _median(vapour_g_m3[max(first - _LEAST_QUIET, 0) : first + 1].copy())
    excess = vapour_g_m3[first:end] - level
    most = excess.item(excess.argmax())
    if most <= 0.0 or excess.item(-1) > _FALLEN_SHARE * most:
        return None
    high = excess > _FALLEN_SHARE * most
    begin, last = first + int(high.argmax()), end - 1 - int(high[::-1].argmax())
    if t_s[last] - t_s[begin] > _PUFF_S:
        return None
    return begin, last + 1, level


def _date(
    t_s: FloatArray, vapour_g_m3: FloatArray, saturated: BoolArray, alarm: int, numbers: SteamNumbers
) -> tuple[float, float, float, float, float] | None:
    """Onset (s), steepest slope and creep before it (g/m3/s), the rise and what is left of it (g/m3); None if it is not steep."""
    first = min(int(t_s.searchsorted(t_s[alarm] - _FAR_S)), max(alarm - _LEAST_BEFORE, 0))
    t, vapour = t_s[first:], vapour_g_m3[first:]
    found = _steepest(t, vapour, saturated[first:])
    if found is None:
        return None
    start, end, slope = found
    level, creep = _line_before(t, vapour, float(t[start]), numbers.creep_g_m3_s)
    # Of a rise between two readings that are far apart nobody knows how steep it was.
    unseen = max(float(t[end] - t[start]) / _GAP_S, 1.0)
    if slope * unseen < max(numbers.steep_g_m3_s, _STEPS_STEEPER * creep):
        return None
    t_mid, v_mid = float(t[start] + t[end]) / 2.0, float(vapour[start] + vapour[end]) / 2.0
    line_there = level + creep * (t_mid - float(t[start]))
    foot = t_mid - max(v_mid - line_there, 0.0) / (slope - creep)
    if unseen > 1.0:
        foot = max(foot, float(t[start]))
    after = int(t.searchsorted(foot, side="right"))
    if after > 0:
        # Between two readings that are far apart a rise may have begun, and been steeper, at any time until the second.
        foot += max(float(t[after]) - foot - _RISES_WITHIN_S, 0.0) / 2.0
    onset = foot - numbers.sensor_delay_s
    rise = inf if saturated[first + start :].any() else float(vapour[start + int(vapour[start:].argmax())]) - level
    left = inf if saturated[-1] else sum(vapour[-_LEAST_QUIET:].tolist()) / min(vapour.size, _LEAST_QUIET) - level
    return max(onset, 0.0), slope, creep, rise, left


def _steepest(t: FloatArray, vapour: FloatArray, saturated: BoolArray) -> tuple[int, int, float] | None:
    """First and last sample of the steepest stretch of about two seconds, and its slope; None without a stretch."""
    later = np.minimum(t.searchsorted(t + _SLOPE_SPAN_S), t.size - 1)
    slopes = (vapour.take(later) - vapour) / np.maximum(t.take(later) - t, _SLOPE_SPAN_S / 4.0)
    slopes[saturated] = -inf
    start = int(slopes.argmax())
    slope = slopes.item(start)
    return (start, int(later[start]), slope) if slope > -inf else None


def _line_before(t: FloatArray, vapour: FloatArray, t_steepest: float, creep_most: float) -> tuple[float, float]:
    """Level at the steepest point, and slope, of the line that the vapour was creeping on until shortly before it."""
    before = int(t.searchsorted(t_steepest - _CLEAR_OF_RISE_S))
    if before < _LEAST_QUIET:
        return float(vapour[0]), 0.0
    # What rose and fell long before is not what it was creeping on.
    first = min(int(t.searchsorted(t_steepest - _NEAR_S - _FAR_S)), before - _LEAST_QUIET)
    x, y = t[first:before] - t_steepest, vapour[first:before]
    x_mean, y_mean = float(x.sum()) / x.size, float(y.sum()) / x.size
    x -= x_mean
    creep = min(max(float(x.dot(y)) / float(x.dot(x)), 0.0), 3.0 * creep_most)
    return y_mean - creep * x_mean, creep
