"""The heating clock: how much heat a moment of the cook stands for.

The cook clock counts seconds since the start. The heating clock is the integral of the power level over the cook
clock, less what cooling took back while the magnetron was off: one second at full power is one second on it. Popping
and steam follow heat, so they are modelled on the heating clock. It never falls while the magnetron is on, and never
falls at all without cooling.

Power is a step function: a level holds until the next reading. Without a power reading, and before the first one, the
magnetron runs at full power from 0.

Looking ahead, an oven that switches its magnetron in a rhythm goes on doing so. Without a rhythm, heating is taken to
go on at once at the level that was last seen. Where a switching off is due and nobody has told of it yet, the word is taken to be
late: the clock stands still from there, for as long as an off-period of the rhythm lasts at most.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple, overload

import numpy as np

from service.readings.cook import Cook
from service.readings.curve import Curve, highest_so_far
from service.readings.periods import Cooling, Periods, Rhythm, mostly_held
from service.units import FloatArray, IntArray

# Where the last straight piece of every curve ends: beyond any time that is asked about.
_FAR_S = 1e6
_FULL_PERMILLE = 1000


class HeatingClock(NamedTuple):
    """The heating clock of one cook, as known at ``as_of_s`` on the cook clock.

    ``levels`` hold from ``set_s`` on, cook seconds of which the first is 0. ``full_power`` is the integral of the level,
    ``heated`` the time with the magnetron on and ``powered`` that with any level over 0, all without cooling; ``lost`` is all
    that cooling took back, None where it took nothing, as is then ``hottest``, the highest that the clock stood at so far.
    ``now_u_s`` is where the clock stands at ``as_of_s``, ``now_heating_s`` the time that was powered. The present on- or
    off-period began at ``period_began_s``. ``due_s`` is when the magnetron should have been switched off, of which there is no
    word yet; None otherwise. Until there is, it counts as heating: no cap is put off by a guess, nor by what only lamp and fan
    may have drawn. At full power from the beginning both clocks are one, and ``is_plain``.
    """

    as_of_s: float
    now_u_s: float
    now_heating_s: float
    set_s: list[float]
    levels: list[float]
    full_power: Curve
    heated: Curve
    powered: Curve
    lost: Curve | None
    hottest: Curve | None
    period_began_s: float
    rhythm: Rhythm | None
    due_s: float | None
    is_plain: bool

    @staticmethod
    def of(
        cook: Cook,
        as_of_ms: int,
        *,
        cooling_share: float = 0.0,
        cooling_max_s: float = 0.0,
        cooling_after_s: float = 0.0,
        idle_level: float = 0.0,
    ) -> HeatingClock:
        """The clock of a cook, from its power readings at or before ``as_of_ms``.

        ``cooling_share`` is in heating seconds lost a second off, the two others are in seconds; all are 0 or more.
        Nothing is lost while the share or the most is 0. A level below the share ``idle_level`` of the highest is none of the
        magnetron's, which is off then.
        """
        if not cook.power_ms.size or cook.power_ms[0] > as_of_ms:
            return _plain(as_of_ms / 1000.0)
        seen = int(cook.power_ms.searchsorted(as_of_ms, "right"))
        power_permille = cook.power_permille[:seen]
        if power_permille.item(power_permille.argmin()) == _FULL_PERMILLE:
            return _plain(as_of_ms / 1000.0)
        cooling = Cooling(share=cooling_share, most_s=cooling_max_s, after_s=cooling_after_s)
        told = _told(cook.power_ms[:seen].tobytes(), power_permille.tobytes(), cooling, idle_level)
        as_of_s = as_of_ms / 1000.0
        due_s = _overdue_s(told, float(cook.power_ms[seen - 1]) / 1000.0, as_of_s)
        known_s = as_of_s if due_s is None else due_s
        return HeatingClock(
            as_of_s,
            told.full_power.at(known_s) - (0.0 if told.lost is None else told.lost.at(known_s)),
            told.powered.at(as_of_s),
            *told,
            due_s=due_s,
            is_plain=False,
        )

    @property
    def knots_s(self) -> list[float]:
        """The cook seconds at which a level was set, and a far end."""
        return self.full_power.knots_s

    @overload
    def full_power_s(self, t_s: float) -> float: ...
    @overload
    def full_power_s(self, t_s: FloatArray) -> FloatArray: ...
    def full_power_s(self, t_s: float | FloatArray) -> float | FloatArray:
        """The heating clock, in seconds, at cook seconds ``t_s`` (a number or any array of them).

        After ``as_of_s`` the present level holds; before 0 the clock stands at 0.
        """
        if self.is_plain:
            return _as_it_is(t_s)
        if isinstance(t_s, np.ndarray):
            full_power_s = self.full_power.at_all(t_s)
            return full_power_s if self.lost is None else full_power_s - self.lost.at_all(t_s)
        return self.full_power.at(t_s) - (0.0 if self.lost is None else self.lost.at(t_s))

    @overload
    def hottest_u_s(self, t_s: float) -> float: ...
    @overload
    def hottest_u_s(self, t_s: FloatArray) -> FloatArray: ...
    def hottest_u_s(self, t_s: float | FloatArray) -> float | FloatArray:
        """The highest that the heating clock has stood at by cook seconds ``t_s`` (a number or any array of them).

        What pops or opens at some heat has done so by the hottest moment so far: while food regains what it lost in a pause,
        nothing new can come.
        """
        if self.hottest is None:
            return self.full_power_s(t_s)
        return self.hottest.at_all(t_s) if isinstance(t_s, np.ndarray) else self.hottest.at(t_s)

    @overload
    def heating_s(self, t_s: float) -> float: ...
    @overload
    def heating_s(self, t_s: FloatArray) -> FloatArray: ...
    def heating_s(self, t_s: float | FloatArray) -> float | FloatArray:
        """Seconds with the magnetron on, from the start until cook seconds ``t_s`` (a number or any array)."""
        if self.is_plain:
            return _as_it_is(t_s)
        return self.heated.at_all(t_s) if isinstance(t_s, np.ndarray) else self.heated.at(t_s)

    def is_on(self) -> bool:
        """Whether the magnetron runs at ``as_of_s``."""
        return self.levels[-1] > 0.0

    def on_level(self) -> float:
        """The level that it has mostly had while on, lately: 1 unless the oven has said less."""
        if len(self.levels) == 1:
            return self.levels[0] or 1.0
        return mostly_held(self.set_s, self.levels, self.as_of_s)

    def duty(self) -> float:
        """The mean level over a cycle of the rhythm that the oven is in; 1 where it is in none."""
        rhythm = self._present_rhythm()
        return 1.0 if rhythm is None else rhythm.level * rhythm.on_s / (rhythm.on_s + rhythm.off_s)

    def on_s_since(self, t_s: float) -> float:
        """Seconds with the magnetron on between cook second ``t_s`` and ``as_of_s``; 0 where ``t_s`` is later."""
        return max(self.heating_s(self.as_of_s) - self.heating_s(t_s), 0.0)

    def cook_s_after(self, delta_full_power_s: float) -> float:
        """Cook seconds from ``as_of_s`` until the heating clock has first gained ``delta_full_power_s`` more.

        0 for what has been gained already.
        A rhythm is carried forward with its cooling; without one, heating goes on at once at ``on_level()``.
        """
        if delta_full_power_s <= 0.0:
            return 0.0
        rhythm = self._present_rhythm()
        return delta_full_power_s / self.on_level() if rhythm is None else self._in_rhythm_s(rhythm, delta_full_power_s)

    def cook_s_of_heating(self, delta_heating_s: float) -> float:
        """Cook seconds from ``as_of_s`` until the magnetron has run for ``delta_heating_s`` more, at whatever level.

        A rhythm is carried forward; without one, heating goes on at once.
        """
        rhythm = self._present_rhythm()
        if delta_heating_s <= 0.0 or rhythm is None:
            return max(delta_heating_s, 0.0)
        return self._in_rhythm_s(Rhythm(on_s=rhythm.on_s, off_s=rhythm.off_s, level=1.0, lost_s=0.0), delta_heating_s)

    def _in_rhythm_s(self, rhythm: Rhythm, delta_s: float) -> float:
        if self.due_s is not None:
            return rhythm.cook_s(delta_s + rhythm.lost_s) + max(rhythm.off_s - (self.as_of_s - self.due_s), 0.0)
        elapsed_s = self.as_of_s - self.period_began_s
        if self.is_on():
            on_s = min(elapsed_s, rhythm.on_s)
            return rhythm.cook_s(delta_s + on_s * rhythm.level) - on_s
        off_s = max(rhythm.off_s - elapsed_s, 0.0)
        yet_to_lose_s = self.now_u_s - self.full_power_s(self.as_of_s + off_s) if rhythm.lost_s > 0.0 else 0.0
        return rhythm.cook_s(delta_s + yet_to_lose_s) + off_s

    def _present_rhythm(self) -> Rhythm | None:
        if self.rhythm is None or self.due_s is not None:
            return self.rhythm
        elapsed_s = self.as_of_s - self.period_began_s
        return self.rhythm if self.rhythm.goes_on(is_on=self.is_on(), elapsed_s=elapsed_s) else None


@overload
def _as_it_is(t_s: float) -> float: ...
@overload
def _as_it_is(t_s: FloatArray) -> FloatArray: ...
def _as_it_is(t_s: float | FloatArray) -> float | FloatArray:
    return np.maximum(t_s, 0.0) if isinstance(t_s, np.ndarray) else max(t_s, 0.0)


_STRAIGHT = Curve.of([0.0, _FAR_S], [0.0, _FAR_S])


def _plain(as_of_s: float) -> HeatingClock:
    """The clock of a cook at full power from the beginning, or whose power nobody has told."""
    return HeatingClock(
        as_of_s=as_of_s,
        now_u_s=as_of_s,
        now_heating_s=as_of_s,
        set_s=[0.0],
        levels=[1.0],
        full_power=_STRAIGHT,
        heated=_STRAIGHT,
        powered=_STRAIGHT,
        lost=None,
        hottest=None,
        period_began_s=0.0,
        rhythm=None,
        due_s=None,
        is_plain=True,
    )


class _Told(NamedTuple):
    """What the power readings tell, whatever the moment: the fields of the clock of these names."""

    set_s: list[float]
    levels: list[float]
    full_power: Curve
    heated: Curve
    powered: Curve
    lost: Curve | None
    hottest: Curve | None
    period_began_s: float
    rhythm: Rhythm | None


# Power is told seldom, and a log is asked about every second.
@lru_cache(maxsize=64)
def _told(power_ms: bytes, power_permille: bytes, cooling: Cooling, idle_level: float) -> _Told:
    """From the power readings, as the bytes of their columns."""
    set_s, levels = _steps(np.frombuffer(power_ms, np.int32), np.frombuffer(power_permille, np.int32))
    knots_s = [*set_s, set_s[-1] + _FAR_S]
    full_power, powered = _running_totals(knots_s, levels)
    least = idle_level * max(levels)
    levels = [0.0 if level < least else level for level in levels]
    _, heated = _running_totals(knots_s, levels)
    periods = Periods.of(full_power, levels)
    lost = periods.cooled(cooling)
    return _Told(
        set_s=set_s,
        levels=levels,
        full_power=full_power,
        heated=heated,
        powered=powered,
        lost=lost,
        hottest=None if lost is None else highest_so_far(full_power, lost),
        period_began_s=periods.last_began_s,
        rhythm=periods.rhythm(cooling),
    )


def _overdue_s(told: _Told, newest_s: float, as_of_s: float) -> float | None:
    """When the magnetron should have been switched off, if nobody has told of its power since and it can still be off."""
    rhythm = told.rhythm
    if rhythm is None or told.levels[-1] <= 0.0:
        return None
    due_s = told.period_began_s + rhythm.on_s
    is_due = newest_s < due_s < as_of_s
    return due_s if is_due and rhythm.goes_on(is_on=False, elapsed_s=as_of_s - due_s) else None


def _steps(power_ms: IntArray, power_permille: IntArray) -> tuple[list[float], list[float]]:
    """From when on which level held, each other than the one before it, and the first from 0."""
    changes = np.ones(power_ms.size, dtype=np.bool_)
    np.not_equal(power_permille[1:], power_permille[:-1], out=changes[1:])
    set_s, levels = (power_ms[changes] / 1000.0).tolist(), (power_permille[changes] / 1000.0).tolist()
    if set_s[0] > 0.0 and levels[0] < 1.0:
        return [0.0, *set_s], [1.0, *levels]
    return [0.0, *set_s[1:]], levels


def _running_totals(knots_s: list[float], levels: list[float]) -> tuple[Curve, Curve]:
    """Of the level, and of the time with a level over 0."""
    full_power_s, heated_s = [0.0], [0.0]
    for start_s, end_s, level in zip(knots_s, knots_s[1:], levels, strict=False):
        full_power_s.append(full_power_s[-1] + (end_s - start_s) * level)
        heated_s.append(heated_s[-1] + (end_s - start_s if level > 0.0 else 0.0))
    return Curve.of(knots_s, full_power_s), Curve.of(knots_s, heated_s)
