"""Invented meals: what a spread of foods does in an oven, worked out once, to be weighed by what was seen.

Model. A meal is two lumps, a hot edge and a cold core. Of the heat that arrives the edge takes more than its share of the
mass; heat flows into the core in proportion to the difference of their temperatures. From some degrees below the boiling point
on the edge turns a growing part of what it takes into steam, and boils away all of it there; a part of that steam condenses
in the core as long as the core has room for it. Steam begins when a small share of the power goes off as steam, that of some
hundredths of a gram a second from a typical load.

Everything is scaled: heat in units of what warms the whole meal from its start to its boiling point, power in units of what
the meal takes up. What is left are the shares, the start temperature, and the flow of heat into the core against the power,
so that one set of meals serves every load and every oven.

Range. Food that starts between -5 and 30 degrees Celsius; ice is not in it, and neither is an oven that changes its level,
whose cook is read on the heating clock.

The lumps are our own; specific and latent heats stand in service.evidence.
"""

from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

from service.evidence.heat_balance import absorbed_share, boiling_share
from service.programs.programme import Programme
from service.units import FloatArray

MEALS = 900
_STEP = 0.005
_STEPS = 560
_CONDUCTION = (0.015, 14.0)
_BASES = (2, 3, 5, 7, 11, 13)
_SKIPPED = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class MealNumbers:
    """Numbers of a programme that its invented meals are drawn from; the programme's file says what each does."""

    hot_share: float
    hot_share_sd: float
    hot_uptake: float
    hot_uptake_log_sd: float
    start_low_c: float
    start_high_c: float
    steams_below_low_k: float
    steams_below_high_k: float
    caught_share_most: float
    steam_begins_g_s: float
    typical_load_g: float
    typical_rated_w: float
    power_share: float
    half_load_g: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Meals:
    """Meals in ascending order of `log_ratio`, all arrays of shape (n,). Compared by identity.

    Attributes:
        log_ratio: logarithm of the time to a core that is hot enough over the time to steam.
        log_heat_k: logarithm of the share of its heat that a meal has taken when it steams, times the rise to boiling in K.
        log_conduction: logarithm of the flow of heat into the core over the power taken up, in 1/K.
        start_c: what it starts at.
        rise_k: from there to boiling.
    """

    log_ratio: FloatArray
    log_heat_k: FloatArray
    log_conduction: FloatArray
    start_c: FloatArray
    rise_k: FloatArray


class _Drawn(NamedTuple):
    """Meals before they are heated, (n,) each: mass share of the edge and its share of the heat, start (degrees Celsius), flow
    into the core, how far below boiling the edge steams (of the rise), and the share of steam that the core catches."""

    edge: FloatArray
    uptake: FloatArray
    start_c: FloatArray
    flow: FloatArray
    band: FloatArray
    caught: FloatArray


@lru_cache(maxsize=32)
def meals_of(programme: Programme, boils_c: float, core_c: float) -> Meals:
    """The meals of a programme where water boils at `boils_c` and the core must reach `core_c` (some 50 ms, once for each)."""
    numbers = programme.numbers(MealNumbers)
    drawn = _drawn(numbers, boils_c)
    rise_k = boils_c - drawn.start_c
    absorbed_w = numbers.typical_rated_w * absorbed_share(
        numbers.typical_load_g, numbers.power_share, numbers.half_load_g
    )
    begins_share = boiling_share(numbers.steam_begins_g_s, boils_c, absorbed_w)
    steams, hot = _heated(drawn, begins_share, (core_c - drawn.start_c) / rise_k)
    order = np.argsort(hot / steams, kind="stable")
    return Meals(
        log_ratio=np.log(hot / steams)[order],
        log_heat_k=np.log(steams * rise_k)[order],
        log_conduction=np.log(drawn.flow / rise_k)[order],
        start_c=drawn.start_c[order],
        rise_k=rise_k[order],
    )


def _drawn(numbers: MealNumbers, boils_c: float) -> _Drawn:
    even = np.array([_radical_inverse(base) for base in _BASES])
    normal = np.vectorize(NormalDist().inv_cdf)(even[:2])
    edge = np.clip(numbers.hot_share + numbers.hot_share_sd * normal[0], 0.1, 0.9)
    excess = numbers.hot_uptake * np.exp(numbers.hot_uptake_log_sd * normal[1])
    start_c = numbers.start_low_c + (numbers.start_high_c - numbers.start_low_c) * even[2]
    low_k, high_k = numbers.steams_below_low_k, numbers.steams_below_high_k
    return _Drawn(
        edge=edge,
        uptake=np.minimum(edge * excess, 0.97),
        start_c=start_c,
        flow=_CONDUCTION[0] * (_CONDUCTION[1] / _CONDUCTION[0]) ** even[3],
        band=(low_k + (high_k - low_k) * even[4]) / (boils_c - start_c),
        caught=numbers.caught_share_most * even[5],
    )


def _radical_inverse(base: int) -> FloatArray:
    """The Halton sequence in a base: numbers that fill 0 to 1 more evenly than chance would."""
    number = np.arange(_SKIPPED, _SKIPPED + MEALS)
    inverse, part = np.zeros(MEALS), 1.0
    while number.any():
        part /= base
        inverse += part * (number % base)
        number //= base
    return inverse


def _heated(meal: _Drawn, begins_share: float, core_hot: FloatArray) -> tuple[FloatArray, FloatArray]:
    """When each meal steams and when its core is hot, in units of the time that takes it evenly to its boiling point."""
    edge, core = np.zeros(MEALS), np.zeros(MEALS)
    steams, hot = (np.full(MEALS, _STEP * _STEPS) for _ in range(2))
    # As much as an explicit step bears.
    flow = np.minimum(meal.flow, 0.3 * np.minimum(meal.edge, 1.0 - meal.edge) / _STEP)
    for step in range(_STEPS, 0, -1):
        inward = flow * (edge - core)
        left = np.maximum(meal.uptake - inward, 0.0)
        boiling = np.minimum(np.maximum((edge - 1.0 + meal.band) / meal.band, 0.0), 1.0) * left
        caught = meal.caught * boiling * np.minimum((1.0 - core) / 0.4, 1.0)
        gained = 1.0 - meal.uptake + inward + caught
        off = boiling - caught + np.where(core >= 1.0, gained, 0.0)
        edge = np.minimum(edge + _STEP * (meal.uptake - inward - boiling) / meal.edge, 1.0)
        core = np.minimum(core + _STEP * gained / (1.0 - meal.edge), 1.0)
        now = _STEP * (_STEPS + 1 - step)
        np.minimum(steams, np.where(off >= begins_share, now, steams), out=steams)
        np.minimum(hot, np.where(np.minimum(core, edge) >= core_hot, now, hot), out=hot)
    return steams, hot
