"""How steam grows once food has begun to steam.

Model. The vapour above the level before the onset follows the steam that the food lets out, through the sensor's lag and the
cavity's air. Times are heating seconds since the rise was seen to begin.

* Growth: the logarithm of the vapour at a later over that at an earlier moment. A liquid mixes and boils as a whole, so that its
  steam soon comes in full; a solid goes on growing as more of it comes to the boil.
* Released: the integral of the vapour over the heating time, in g s/m3. Times the flow through the cavity it is the mass of
  steam; the flow is not known.
* Vigour: the vapour lately as a share of the most that has been seen; it falls when boiling dies down or the door opens.

Assumptions. An open door clears the air, so growth is read only where the heating ran through from the onset to the later moment.

Range. Samples every 0.2 to 5 s; nothing is said of growth before the later moment is over.
"""

from dataclasses import dataclass
from math import log

import numpy as np

from service.units import FloatArray

_AROUND_S = 3.0
_LATELY_S = 8.0
_LEAST_G_M3 = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthNumbers:
    """Numbers of a programme for the growth of steam: the earlier and the later moment since the rise began (s)."""

    growth_early_s: float
    growth_late_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SteamGrowth:
    """What the steam did since it came.

    Attributes:
        growth: logarithm of the later over the earlier vapour; None where it cannot be said.
        released_g_s_m3: integral of the vapour above the level before.
        vigour: vapour lately over the most so far, 0 to 1.
    """

    growth: float | None
    released_g_s_m3: float
    vigour: float


def steam_growth(
    seen_u_s: FloatArray, excess_g_m3: FloatArray, *, ran_through_u_s: float, numbers: GrowthNumbers
) -> SteamGrowth:
    """Growth of the vapour above the level before, in samples from the beginning of the rise on.

    seen_u_s: (n,) heating seconds since the rise began, from 0 on and never falling; excess_g_m3: (n,) vapour above the level
    before; ran_through_u_s: for how many of those seconds the heating was never off. Raises ValueError without a sample.
    """
    if not seen_u_s.size:
        raise ValueError("the growth of steam needs at least one sample")
    above = np.maximum(excess_g_m3, 0.0)
    parts = (above[1:] + above[:-1]) / 2.0 * (seen_u_s[1:] - seen_u_s[:-1])
    return SteamGrowth(
        growth=_growth(seen_u_s, above, ran_through_u_s, numbers),
        released_g_s_m3=float(parts.sum()),
        vigour=_vigour(seen_u_s, above),
    )


def _growth(seen_u_s: FloatArray, above: FloatArray, ran_through_u_s: float, numbers: GrowthNumbers) -> float | None:
    newest_u_s = min(float(seen_u_s[-1]), ran_through_u_s)
    if newest_u_s < numbers.growth_late_s + _AROUND_S:
        return None
    early, late = (_mean_around(seen_u_s, above, at_s) for at_s in (numbers.growth_early_s, numbers.growth_late_s))
    return None if early is None or late is None else log(max(late, _LEAST_G_M3) / max(early, _LEAST_G_M3))


def _mean_around(seen_u_s: FloatArray, above: FloatArray, at_u_s: float) -> float | None:
    first, last = seen_u_s.searchsorted((at_u_s - _AROUND_S, at_u_s + _AROUND_S)).tolist()
    return float(above[first:last].mean()) if last > first else None


def _vigour(seen_u_s: FloatArray, above: FloatArray) -> float:
    sums = np.concatenate(((0.0,), above.cumsum()))
    start = seen_u_s.searchsorted(seen_u_s - _LATELY_S)
    samples = np.arange(1, above.size + 1) - start
    lately = (sums[1:] - sums[start]) / samples
    most = float(lately.max())
    return float(lately[-1]) / most if most > _LEAST_G_M3 else 0.0
