"""A bag in the oven: when the magnetron runs, when each kernel pops, and how much steam comes out. All invented.

Model. A kernel pops when it has taken up its own amount of heat, log-normal about what a kernel of a bag of this mass takes at
this power; a few lie cold and take far longer, a few never pop. The bag holds its steam until a share of the kernels
has popped, then lets go of it.
"""

from dataclasses import dataclass

import numpy as np

from service.invented.kinds import Drawn
from service.units import FloatArray

STEP_S = 0.25
_LONGEST_S = 900.0
_FAN_S = 3.0
_CORN_SHARE, _KERNEL_G = 0.74, 0.1465
_DUD_SHARE, _COLD_SHARE, _COLD_LATER = (0.03, 0.09), 0.06, 0.12
_HEAT_S, _OF_LOAD_G, _OF_W, _LOAD_POWER = 98.0, 88.0, 950.0, 0.6
_STEAM_G = 0.006


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bag:
    """What happens in one cook (cook clock, s; n kernels that pop, m steps of STEP_S).

    Attributes:
        kernels: how many were in the bag, those that never pop included.
        popped_s: (n,) when they pop, in order.
        power: (t, level) pairs: from t on the magnetron runs at this level.
        steam_g_s: (m,) steam that leaves the bag.
        opened_s: when it opens.
        good_stop_s: the first two seconds of heating without a pop after the peak.
    """

    kernels: int
    popped_s: FloatArray
    power: tuple[tuple[float, float], ...]
    steam_g_s: FloatArray
    opened_s: float
    good_stop_s: float


def cooked(drawn: Drawn, load_g: float, rng: np.random.Generator) -> Bag:
    """Cook a bag of which `load_g` is printed."""
    kernels = round(load_g * rng.uniform(0.95, 1.05) * _CORN_SHARE / _KERNEL_G)
    popping = kernels - rng.binomial(kernels, rng.uniform(*_DUD_SHARE))
    typical_s = _HEAT_S * (load_g / _OF_LOAD_G) ** _LOAD_POWER * _OF_W / (drawn.rated_w * drawn.output_share)
    heat_s = typical_s * np.exp(drawn.spread * rng.standard_normal(popping))
    cold = rng.random(popping) < _COLD_SHARE
    heat_s += np.where(cold, typical_s * rng.exponential(_COLD_LATER, popping), 0.0)
    power = _power(drawn, typical_s)
    heated_s = _heated(power)
    popped_s = np.sort(np.interp(heat_s, heated_s, _steps()))
    opened_s = float(np.quantile(popped_s, drawn.opens_at_share))
    return Bag(
        kernels=kernels,
        popped_s=popped_s,
        power=power,
        steam_g_s=_steam(drawn, popped_s, opened_s),
        opened_s=opened_s,
        good_stop_s=_good_stop(popped_s, heated_s),
    )


def _steps() -> FloatArray:
    return np.arange(round(_LONGEST_S / STEP_S), dtype=np.float64) * STEP_S


def _power(drawn: Drawn, typical_s: float) -> tuple[tuple[float, float], ...]:
    """A few seconds of the fan alone, then power, in pulses and with a pause where the oven has them."""
    power = [(0.0, 0.0), (_FAN_S, 1.0)]
    if drawn.cycle_s > 0.0:
        starts = np.arange(_FAN_S, _LONGEST_S, drawn.cycle_s)
        power = [(0.0, 0.0)]
        power += [
            (float(t), level) for s in starts for t, level in ((s, 1.0), (s + drawn.on_share * drawn.cycle_s, 0.0))
        ]
    if drawn.pause_s > 0.0:
        begins_s = _FAN_S + 0.8 * typical_s
        kept = [(t, level) for t, level in power if not begins_s <= t <= begins_s + drawn.pause_s]
        power = sorted([*kept, (begins_s, 0.0), (begins_s + drawn.pause_s, 1.0)])
    return tuple((round(t, 2), level) for t, level in power)


def _heated(power: tuple[tuple[float, float], ...]) -> FloatArray:
    """Seconds of heating at each step."""
    times_s, levels = zip(*power, strict=True)
    level = np.array(levels)[np.searchsorted(times_s, _steps(), "right") - 1]
    heated_s: FloatArray = np.cumsum(level) * STEP_S
    return heated_s


def _steam(drawn: Drawn, popped_s: FloatArray, opened_s: float) -> FloatArray:
    """What each pop frees comes out at once after the opening, and before it in one cloud, but for what seeps."""
    steps_s = _steps()
    freed_g = np.histogram(popped_s, np.append(steps_s, _LONGEST_S))[0] * _STEAM_G
    before = steps_s < opened_s
    held_g = (1.0 - drawn.seep_share) * freed_g[before].sum()
    since_s = steps_s - opened_s
    cloud = np.where(before, 0.0, np.exp(-np.maximum(since_s, 0.0) / 2.0))
    cloud /= cloud.sum() * STEP_S
    steam_g_s: FloatArray = np.where(before, drawn.seep_share, 1.0) * freed_g / STEP_S + held_g * cloud
    return steam_g_s


def _good_stop(popped_s: FloatArray, heated_s: FloatArray) -> float:
    heat_s = np.interp(popped_s, _steps(), heated_s)
    held = np.arange(heat_s.size) - heat_s.searchsorted(heat_s - 5.0)
    peak = int(held.argmax())
    long = np.flatnonzero(np.diff(heat_s[peak:]) >= 2.0)
    last_s = heat_s[peak + int(long[0])] if long.size else heat_s[-1]
    return float(np.interp(last_s + 2.0, heated_s, _steps()))
