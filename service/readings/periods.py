"""The periods in which the magnetron is on and off: what cooling takes back in them, and the rhythm they keep.

Food cools a little while it is not heated. In an off-period the heating clock goes back by a share of a second each
second once a grace has passed, by no more than a bound in one off-period and never below what the on-period before it
began with.

Many ovens hold a lower power by switching the magnetron on and off in a fixed rhythm. A rhythm that was seen can be
carried forward: of the last MOST_CYCLES completed cycles (an on-period and the off-period after it) at least two, and
more than half, must be as long as the median one, both parts within RHYTHM_SHARE of it plus RHYTHM_S. A magnetron
that is on or off for longer than that has left the rhythm.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from statistics import median
from typing import NamedTuple

from service.readings.curve import Curve

LATELY_S = 10.0
"""Of so much heating the level that held longest is taken for the present one."""
MOST_CYCLES = 5
"""How many completed cycles are looked at for a rhythm."""
RHYTHM_SHARE = 0.15
"""The share of itself by which a part of a cycle may differ from the median one and still be the same rhythm."""
RHYTHM_S = 1.0
"""The seconds by which it may differ besides: a switch is reported as late as the power is polled."""

# What a cycle that cools as much as it heats is taken to gain, so that every time stays finite.
_LEAST_GAIN_S = 1e-3


class Cooling(NamedTuple):
    """How the heating clock goes back in an off-period: share of the seconds off, most and grace in seconds."""

    share: float
    most_s: float
    after_s: float

    def lost_s(self, off_s: float, gained_s: float) -> float:
        """Seconds lost in an off-period of ``off_s``, after an on-period in which ``gained_s`` were gained."""
        return min(self.share * max(off_s - self.after_s, 0.0), self.most_s, gained_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rhythm:
    """A regular cycle: seconds on and off, mean level while on, seconds that the off-period takes back."""

    on_s: float
    off_s: float
    level: float
    lost_s: float

    def goes_on(self, *, is_on: bool, elapsed_s: float) -> bool:
        """Whether a magnetron that has been on (or off) for ``elapsed_s`` can still be in this rhythm."""
        typical_s = self.on_s if is_on else self.off_s
        return elapsed_s <= typical_s + _leeway_s(typical_s)

    def cook_s(self, heat_s: float) -> float:
        """Cook seconds from the start of an on-period until the heating clock first gained ``heat_s``."""
        gained_s = self.on_s * self.level
        gain_s = max(gained_s - self.lost_s, _LEAST_GAIN_S)
        # The subtrahend keeps rounding from putting the last moment of an on-period behind the off-period.
        cycles = max(ceil((heat_s - gained_s) / gain_s - 1e-9), 0)
        return cycles * (self.on_s + self.off_s) + (heat_s - cycles * gain_s) / self.level


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Periods:
    """The on-periods of a cook and the off-periods after them, in seconds on the cook clock.

    ``on_began_s`` is as long as ``off_began_s``, or one longer while the magnetron is on; an off-period before the
    first on-period is left out. ``off_s`` and ``gained_s`` belong to ``off_began_s``: how long it lasted (far, where
    it still does) and what the on-period before it brought the heating clock.
    """

    on_began_s: list[float]
    off_began_s: list[float]
    off_s: list[float]
    gained_s: list[float]
    last_began_s: float

    @staticmethod
    def of(full_power: Curve, levels: list[float]) -> Periods:
        """The periods of levels that were set at all knots but the last of their integral."""
        on_began_s, off_began_s, gained_s = list[float](), list[float](), list[float]()
        was_on, last_began_s, on_from_u_s = None, 0.0, 0.0
        for set_s, u_s, level in zip(full_power.knots_s, full_power.values, levels, strict=False):
            if (level > 0.0) == was_on:
                continue
            was_on, last_began_s = level > 0.0, set_s
            if was_on:
                on_began_s.append(set_s)
                on_from_u_s = u_s
            elif on_began_s:
                off_began_s.append(set_s)
                gained_s.append(u_s - on_from_u_s)
        ends_s = [*on_began_s[1:], full_power.knots_s[-1]]
        return Periods(
            on_began_s=on_began_s,
            off_began_s=off_began_s,
            off_s=[end_s - began_s for began_s, end_s in zip(off_began_s, ends_s, strict=False)],
            gained_s=gained_s,
            last_began_s=last_began_s,
        )

    def cooled(self, cooling: Cooling) -> Curve | None:
        """The curve of all that was lost, in seconds; None if nothing is."""
        if not self.off_began_s or cooling.share * cooling.most_s <= 0.0:
            return None
        knots_s, values, total_s = list[float](), list[float](), 0.0
        for began_s, off_s, gained_s in zip(self.off_began_s, self.off_s, self.gained_s, strict=True):
            lost_s = cooling.lost_s(off_s, gained_s)
            starts_s = began_s + min(cooling.after_s, off_s)
            knots_s.extend((starts_s, starts_s + lost_s / cooling.share))
            values.extend((total_s, total_s + lost_s))
            total_s += lost_s
        return Curve.of(knots_s, values)

    def rhythm(self, cooling: Cooling) -> Rhythm | None:
        """The rhythm of the last completed cycles, or None where they have none."""
        completed = len(self.on_began_s) - 1
        if completed < 2:
            return None
        lately = slice(max(completed - MOST_CYCLES, 0), completed)
        on_s = [off - on for on, off in zip(self.on_began_s[lately], self.off_began_s[lately], strict=True)]
        off_s = self.off_s[lately]
        typical_on_s, typical_off_s = median(on_s), median(off_s)
        alike = [
            abs(on - typical_on_s) <= _leeway_s(typical_on_s) and abs(off - typical_off_s) <= _leeway_s(typical_off_s)
            for on, off in zip(on_s, off_s, strict=True)
        ]
        if sum(alike) < 2 or 2 * sum(alike) <= len(alike):
            return None
        level = sum(self.gained_s[lately]) / sum(on_s)
        lost_s = cooling.lost_s(typical_off_s, typical_on_s * level)
        return Rhythm(on_s=typical_on_s, off_s=typical_off_s, level=level, lost_s=lost_s)


def _leeway_s(typical_s: float) -> float:
    return RHYTHM_SHARE * typical_s + RHYTHM_S


def mostly_held(set_s: list[float], levels: list[float], until_s: float) -> float:
    """The level over 0 that held for most of the last LATELY_S of heating: their median; 1 where none did.

    A meter that is read in a rhythm errs, and sees part of a level when the magnetron is switched.
    """
    held: list[tuple[float, float]] = []
    ends_s, left_s = until_s, LATELY_S
    for began_s, level in zip(reversed(set_s), reversed(levels), strict=True):
        if level > 0.0:
            held.append((level, min(ends_s - began_s, left_s)))
            left_s -= held[-1][1]
        if left_s <= 0.0:
            break
        ends_s = began_s
    below_s, half_s = 0.0, sum(for_s for _, for_s in held) / 2.0
    for level, for_s in sorted(held):
        below_s += for_s
        if below_s >= half_s:
            return level
    return 1.0
