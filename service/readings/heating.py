"""The heating clock: how much heat a moment of the cook stands for.

The cook clock counts seconds since the start. The heating clock is the integral of the power level over the cook
clock, less what cooling took back while the magnetron was off: one second at full power is one second on it. Popping
and steam follow heat, so they are modelled on the heating clock. It never falls while the magnetron is on, and never
falls at all without cooling.

Power is a step function: a level holds until the next reading. Without a power reading, and before the first one, the
magnetron runs at full power from 0.

Looking ahead, an oven that switches its magnetron in a rhythm goes on doing so. Without a rhythm, heating is taken to
go on at once at the level that was last seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import overload

import numpy as np

from service.readings.cook import Cook, FloatArray, IntArray
from service.readings.periods import Cooling, Periods, Rhythm

# Where the last straight piece of every curve ends: beyond any time that is asked about.
_FAR_S = 1e6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeatingClock:
    """The heating clock of one cook, as known at ``as_of_s`` on the cook clock.

    ``knots_s`` are the cook seconds at which a level was set, with a far end; ``levels`` the level from each on;
    ``full_power_at_knots_s`` the integral of the level and ``heated_at_knots_s`` the time with a level over 0, both
    without cooling. ``cooling_knots_s`` and ``lost_s`` are the curve of all that cooling took back, empty where it
    took nothing. The present on- or off-period began at ``period_began_s``.
    """

    as_of_s: float
    knots_s: FloatArray
    levels: FloatArray
    full_power_at_knots_s: FloatArray
    heated_at_knots_s: FloatArray
    cooling_knots_s: FloatArray
    lost_s: FloatArray
    period_began_s: float
    rhythm: Rhythm | None

    @staticmethod
    def of(
        cook: Cook,
        as_of_ms: int,
        *,
        cooling_share: float = 0.0,
        cooling_max_s: float = 0.0,
        cooling_after_s: float = 0.0,
    ) -> HeatingClock:
        """The clock of a cook, from its power readings at or before ``as_of_ms``.

        ``cooling_share`` is in heating seconds lost a second off, the two others are in seconds; all are 0 or more.
        Nothing is lost while the share or the most is 0.
        """
        seen = int(cook.power_ms.searchsorted(as_of_ms, "right"))
        knots_s, levels = _steps(cook.power_ms[:seen], cook.power_permille[:seen])
        lengths_s = knots_s[1:] - knots_s[:-1]
        full_power_s = _running_total(lengths_s * levels)
        periods = Periods.of(knots_s, levels, full_power_s)
        cooling = Cooling(share=cooling_share, most_s=cooling_max_s, after_s=cooling_after_s)
        cooling_knots_s, lost_s = periods.cooled(cooling)
        return HeatingClock(
            as_of_s=as_of_ms / 1000.0,
            knots_s=knots_s,
            levels=levels,
            full_power_at_knots_s=full_power_s,
            heated_at_knots_s=_running_total(lengths_s * (levels > 0.0)),
            cooling_knots_s=cooling_knots_s,
            lost_s=lost_s,
            period_began_s=periods.last_began_s,
            rhythm=periods.rhythm(cooling),
        )

    @overload
    def full_power_s(self, t_s: float) -> float: ...
    @overload
    def full_power_s(self, t_s: FloatArray) -> FloatArray: ...
    def full_power_s(self, t_s: float | FloatArray) -> float | FloatArray:
        """The heating clock, in seconds, at cook seconds ``t_s`` (a number or any array of them).

        After ``as_of_s`` the present level holds; before 0 the clock stands at 0.
        """
        full_power_s = np.interp(t_s, self.knots_s, self.full_power_at_knots_s)
        if not self.lost_s.size:
            return full_power_s
        return full_power_s - np.interp(t_s, self.cooling_knots_s, self.lost_s)

    @overload
    def heating_s(self, t_s: float) -> float: ...
    @overload
    def heating_s(self, t_s: FloatArray) -> FloatArray: ...
    def heating_s(self, t_s: float | FloatArray) -> float | FloatArray:
        """Seconds with a level over 0, from the start until cook seconds ``t_s`` (a number or any array)."""
        return np.interp(t_s, self.knots_s, self.heated_at_knots_s)

    def level_at(self, t_s: float) -> float:
        """The share of full power at cook second ``t_s``; a level holds from its own reading on."""
        knot = int(self.knots_s[1:-1].searchsorted(t_s, "right"))
        return float(self.levels[knot])

    def is_on(self) -> bool:
        """Whether the magnetron runs at ``as_of_s``."""
        return bool(self.levels[-1] > 0.0)

    def on_level(self) -> float:
        """The level while on, lately: 1 unless the oven has said less."""
        on_levels = self.levels[self.levels > 0.0]
        return float(on_levels[-1]) if on_levels.size else 1.0

    def duty(self) -> float:
        """The mean level over a cycle of the rhythm that the oven is in; 1 where it is in none."""
        rhythm = self._present_rhythm()
        return 1.0 if rhythm is None else rhythm.level * rhythm.on_s / (rhythm.on_s + rhythm.off_s)

    def on_s_since(self, t_s: float) -> float:
        """Seconds with a level over 0 between cook second ``t_s`` and ``as_of_s``; 0 where ``t_s`` is later."""
        return max(float(self.heating_s(self.as_of_s) - self.heating_s(t_s)), 0.0)

    def cook_s_after(self, delta_full_power_s: float | FloatArray) -> FloatArray:
        """Cook seconds from ``as_of_s`` until the heating clock has first gained ``delta_full_power_s`` more.

        Takes a number or any array, answers with an array of the same shape; 0 for what has been gained already.
        A rhythm is carried forward with its cooling; without one, heating goes on at once at ``on_level()``.
        """
        delta_s = np.asarray(delta_full_power_s, dtype=np.float64)
        rhythm = self._present_rhythm()
        if rhythm is None:
            return np.maximum(delta_s, 0.0) / self.on_level()
        elapsed_s = self.as_of_s - self.period_began_s
        if self.is_on():
            on_s = min(elapsed_s, rhythm.on_s)
            ahead_s = rhythm.cook_s(delta_s + on_s * rhythm.level) - on_s
        else:
            off_s = max(rhythm.off_s - elapsed_s, 0.0)
            yet_to_lose_s = self.full_power_s(self.as_of_s) - self.full_power_s(self.as_of_s + off_s)
            ahead_s = rhythm.cook_s(delta_s + yet_to_lose_s) + off_s
        return np.where(delta_s > 0.0, ahead_s, 0.0)

    def _present_rhythm(self) -> Rhythm | None:
        elapsed_s = self.as_of_s - self.period_began_s
        if self.rhythm is None or not self.rhythm.goes_on(is_on=self.is_on(), elapsed_s=elapsed_s):
            return None
        return self.rhythm


def _steps(power_ms: IntArray, power_permille: IntArray) -> tuple[FloatArray, FloatArray]:
    times_s = power_ms / 1000.0
    levels = power_permille / 1000.0
    if not times_s.size or times_s[0] > 0.0:
        times_s = np.concatenate(((0.0,), times_s))
        levels = np.concatenate(((1.0,), levels))
    return np.concatenate((times_s, (times_s[-1] + _FAR_S,))), levels


def _running_total(parts_s: FloatArray) -> FloatArray:
    return np.concatenate(((0.0,), np.cumsum(parts_s)))
