"""How suddenly steam came: whether the whole of the food came to the boil at once, or more and more of it.

Model. Solid food boils at its edge first, and more of it as time goes on: its vapour rises for long, much as it began. A liquid
mixes while it is heated, so that all of it boils at nearly the same moment: its vapour rises late and steeply, and is then
level. Two numbers, both without a unit of time, tell one from the other.

* Evenness: the logarithm of the rise so far over what it would be had the vapour risen all the time at its steepest. Near 0
  where the rise is even; well below where it came all at once, whether that was long ago or just now.
* Steepness: the logarithm of the steepest slope times the time to steam (g/m3). Twice the power halves the one and doubles the
  other, and so does half the food.

A slow sensor makes every rise slow and even, so that it hides a liquid and never makes one. A single bad sample is left out, by a
running median of three.

Range. Samples every 0.2 to 5 s; nothing is said within 10 s of the rise. The heating must not have changed since then, nor the
sensor have come to the end of its scale: both make a rise level off.
"""

from math import log
from typing import NamedTuple

import numpy as np

from service.units import FloatArray

_SEEN_LEAST_S = 10.0
_STRETCH_S, _STRETCH_SHARE, _INTERVALS = 6.0, 0.25, 2.5
_FULL_SHARE = 0.75
_LEAST_ON_STRETCH = 3
_LATELY_S = 3.0
_LEAST_G_M3 = 0.15
_LEAST_G_M3_S = 0.01


class SuddenSteam(NamedTuple):
    """How the vapour rose until now, as this module tells it; both are logarithms, of a share and of g/m3."""

    evenness: float
    steepness: float


def sudden_steam(seen_u_s: FloatArray, excess_g_m3: FloatArray, *, steams_u_s: float) -> SuddenSteam | None:
    """How suddenly the vapour rose above the level before; None while that is too soon to say.

    seen_u_s: (n,) heating seconds since the steam came to the sensor, from 0 on and rising; excess_g_m3: (n,) vapour above the
    level before; steams_u_s: the time to steam.
    """
    if seen_u_s.size <= _LEAST_ON_STRETCH or float(seen_u_s[-1]) < _SEEN_LEAST_S:
        return None
    rose = _without_single_ones(excess_g_m3)
    slope = _steepest_g_m3_s(seen_u_s, rose)
    if slope is None:
        return None
    steepest = max(slope, _LEAST_G_M3_S)
    lately = int(seen_u_s.searchsorted(seen_u_s[-1] - _LATELY_S, side="right"))
    rise = max(float(rose[lately:].mean()), _LEAST_G_M3)
    return SuddenSteam(
        evenness=log(rise / (steepest * float(seen_u_s[-1]))),
        steepness=log(steepest * steams_u_s),
    )


def _without_single_ones(values: FloatArray) -> FloatArray:
    """The middle one of each value and its neighbours; at an end, of it, its neighbour and where the line through those leads."""
    before, here, after = values[:-2], values[1:-1], values[2:]
    middle = np.maximum(np.minimum(before, here), np.minimum(np.maximum(before, here), after))
    first = _middle(float(values[0]), float(middle[0]), float(3.0 * middle[0] - 2.0 * middle[1]))
    last = _middle(float(values[-1]), float(middle[-1]), float(3.0 * middle[-1] - 2.0 * middle[-2]))
    return np.concatenate(((first,), middle, (last,)))


def _middle(one: float, another: float, third: float) -> float:
    return sorted((one, another, third))[1]


def _steepest_g_m3_s(t_s: FloatArray, rose: FloatArray) -> float | None:
    """The steepest slope of a straight line through a stretch of samples; None where no stretch is long enough."""
    size, lasting_s = t_s.size, float(t_s[-1] - t_s[0])
    stretch_s = max(_STRETCH_S, _STRETCH_SHARE * float(t_s[-1]), _INTERVALS * lasting_s / (size - 1))
    sums = np.zeros((4, size + 1))
    np.cumsum((t_s, t_s * t_s, rose, t_s * rose), axis=1, out=sums[:, 1:])
    start = t_s.searchsorted(t_s - stretch_s)
    count = np.arange(1, size + 1) - start
    t_mean, t_square, mean, t_rose = (sums[:, 1:] - sums[:, start]) / count
    variance = np.maximum(t_square - t_mean * t_mean, 1e-6)
    full = (t_s - t_s[start] >= _FULL_SHARE * stretch_s) & (count >= _LEAST_ON_STRETCH)
    if not full.any():
        return None
    return float(np.where(full, (t_rose - t_mean * mean) / variance, -np.inf).max())
