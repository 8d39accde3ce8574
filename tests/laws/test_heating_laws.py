"""Laws of the heating clock: it follows the heat, whatever the power readings were and however late they came."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from random import Random

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.readings.cook import EMPTY, Cook
from service.readings.heating import HeatingClock
from service.units import FloatArray

switches = st.lists(st.tuples(st.floats(0.0, 600.0), st.sampled_from([0.0, 0.0, 0.3, 0.5, 1.0, 1.0])), max_size=20)
moments_ms = st.integers(0, 700_000)
gains_s = st.lists(st.floats(0.0, 100.0), min_size=1, max_size=10).map(np.array)
MOMENTS_S: FloatArray = np.linspace(0.0, 700.0, 2801)


def level_at(clock: HeatingClock, t_s: float) -> float:
    """A level holds from its own reading on."""
    return clock.levels[max(bisect_right(clock.set_s, t_s) - 1, 0)]


def after_s(clock: HeatingClock, gains_s: FloatArray) -> FloatArray:
    return np.array([clock.cook_s_after(gain_s) for gain_s in gains_s.tolist()])


def curves(clock: HeatingClock) -> list[list[float]]:
    return [clock.full_power_s(MOMENTS_S).tolist(), clock.heating_s(MOMENTS_S).tolist()]


@given(switches, moments_ms)
def test_without_cooling_the_clock_rises_no_faster_than_time(power: list[tuple[float, float]], as_of_ms: int) -> None:
    clock = HeatingClock.of(Cook.of(power=power), as_of_ms)
    full_power_s, heating_s = clock.full_power_s(MOMENTS_S), clock.heating_s(MOMENTS_S)
    for curve in (full_power_s, heating_s):
        steps_s = np.diff(curve)
        assert steps_s.min() >= -1e-9
        assert (steps_s <= np.diff(MOMENTS_S) + 1e-9).all()
    assert (full_power_s <= heating_s + 1e-9).all()


@given(switches, moments_ms)
def test_the_clock_is_the_sum_of_its_levels(power: list[tuple[float, float]], as_of_ms: int) -> None:
    clock = HeatingClock.of(Cook.of(power=power), as_of_ms)
    step_s = 0.25
    middles = [level_at(clock, t) for t in MOMENTS_S[:-1] + step_s / 2]
    # A switch inside a step puts at most that whole step wrong, and there are at most 20 switches.
    assert clock.full_power_s(700.0) == pytest.approx(sum(middles) * step_s, abs=20 * step_s)
    assert clock.is_on() == (level_at(clock, as_of_ms / 1000) > 0.0)


@given(switches, st.randoms(use_true_random=False), moments_ms)
def test_late_power_readings_give_the_same_clock(
    power: list[tuple[float, float]], shuffle: Random, as_of_ms: int
) -> None:
    late = list(power)
    shuffle.shuffle(late)
    cook = EMPTY
    for reading in late:
        cook = cook.merged(Cook.of(power=[reading]))
    in_order = HeatingClock.of(Cook.of(power=power), as_of_ms, cooling_share=0.1, cooling_max_s=3.0)
    out_of_order = HeatingClock.of(cook, as_of_ms, cooling_share=0.1, cooling_max_s=3.0)
    assert curves(out_of_order) == curves(in_order)
    assert out_of_order.rhythm == in_order.rhythm


@given(switches, moments_ms)
def test_power_readings_later_than_now_do_not_count_yet(power: list[tuple[float, float]], as_of_ms: int) -> None:
    cook = Cook.of(power=power)
    assert curves(HeatingClock.of(cook, as_of_ms)) == curves(HeatingClock.of(cook.until(as_of_ms), as_of_ms))


@given(switches, moments_ms, st.floats(0.0, 1.0), st.floats(0.0, 20.0), st.floats(0.0, 10.0))
def test_cooling_takes_back_a_bounded_amount_and_only_while_off(
    power: list[tuple[float, float]], as_of_ms: int, share: float, most_s: float, after_s: float
) -> None:
    cook = Cook.of(power=power)
    warm = HeatingClock.of(cook, as_of_ms)
    cooled = HeatingClock.of(cook, as_of_ms, cooling_share=share, cooling_max_s=most_s, cooling_after_s=after_s)
    full_power_s, lost_s = cooled.full_power_s(MOMENTS_S), warm.full_power_s(MOMENTS_S) - cooled.full_power_s(MOMENTS_S)
    off_periods = sum(level == 0.0 for _, level in power)
    assert full_power_s.min() >= -1e-9
    assert np.diff(lost_s).min() >= -1e-9
    assert lost_s.max() <= off_periods * most_s + 1e-9
    heated = np.diff(warm.heating_s(MOMENTS_S)) > np.diff(MOMENTS_S) - 1e-9
    assert (np.diff(full_power_s)[heated] >= -1e-9).all()
    assert (np.diff(lost_s)[heated] <= 1e-9).all()


@given(switches, moments_ms, st.floats(0.0, 1.0), st.floats(0.0, 20.0), st.floats(0.0, 10.0))
def test_the_highest_so_far_is_the_running_maximum_of_the_clock(
    power: list[tuple[float, float]], as_of_ms: int, share: float, most_s: float, after_s: float
) -> None:
    clock = HeatingClock.of(
        Cook.of(power=power), as_of_ms, cooling_share=share, cooling_max_s=most_s, cooling_after_s=after_s
    )
    hottest_s, sampled_s = clock.hottest_u_s(MOMENTS_S), np.maximum.accumulate(clock.full_power_s(MOMENTS_S))
    assert (hottest_s >= sampled_s - 1e-6).all()
    # Between two moments the clock can have stood no higher than full power leads it.
    assert (hottest_s <= sampled_s + (MOMENTS_S[1] - MOMENTS_S[0]) + 1e-6).all()
    assert (np.diff(hottest_s) >= -1e-6).all()


@given(switches, moments_ms)
def test_a_level_below_that_of_lamp_and_fan_is_off(power: list[tuple[float, float]], as_of_ms: int) -> None:
    """It counts for the caps all the same."""
    told = HeatingClock.of(Cook.of(power=[(0.0, 1.0), *power]), as_of_ms, idle_level=0.2)
    raw = HeatingClock.of(Cook.of(power=[(0.0, 1.0), *power]), as_of_ms)
    meant = HeatingClock.of(
        Cook.of(power=[(0.0, 1.0), *((t, level if level >= 0.2 else 0.0) for t, level in power)]), as_of_ms
    )
    assert np.array_equal(told.heating_s(MOMENTS_S), meant.heating_s(MOMENTS_S))
    assert (told.is_on(), told.on_level()) == (meant.is_on(), meant.on_level())
    assert told.now_heating_s == raw.now_heating_s
    assert np.array_equal(told.full_power_s(MOMENTS_S), raw.full_power_s(MOMENTS_S))


@given(switches, moments_ms, gains_s)
def test_heat_to_come_takes_finite_time_and_more_of_it_takes_longer(
    power: list[tuple[float, float]], as_of_ms: int, gains_s: FloatArray
) -> None:
    clock = HeatingClock.of(Cook.of(power=power), as_of_ms, cooling_share=1.0, cooling_max_s=60.0)
    ahead_s = after_s(clock, np.sort(gains_s))
    assert np.isfinite(ahead_s).all()
    assert (ahead_s >= np.sort(gains_s) - 1e-6).all()
    assert (np.diff(ahead_s) >= -1e-6).all()
    assert clock.cook_s_after(-1.0) == 0.0


@given(st.floats(0.1, 1.0), moments_ms, gains_s)
def test_looking_ahead_at_a_steady_level_is_the_inverse_of_the_clock(
    level: float, as_of_ms: int, gains_s: FloatArray
) -> None:
    clock = HeatingClock.of(Cook.of(power=[(0.0, level)]), as_of_ms)
    reached_s = clock.full_power_s(clock.as_of_s + after_s(clock, gains_s))
    assert reached_s - clock.full_power_s(clock.as_of_s) == pytest.approx(gains_s, abs=1e-6)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycles:
    """A magnetron that is switched in a fixed rhythm, long enough to compare what was foreseen with what came."""

    on_s: float
    off_s: float
    level: float
    seen: int
    phase: float
    cooling_share: float

    @property
    def is_heating(self) -> bool:
        """Whether a cycle brings more than its off-period takes back: one that does not never gets anywhere."""
        return self.on_s * self.level > min(self.cooling_share * (self.off_s - 1.0), 3.0) + 0.01

    @property
    def as_of_ms(self) -> int:
        return round((self.seen + self.phase) * (self.on_s + self.off_s) * 1000)

    def clock(self, *, cycles: int, as_of_ms: int, late_s: float | None = None) -> HeatingClock:
        """As known at a moment, where word of the switch at `late_s` has not come yet."""
        starts_s = np.arange(cycles) * (self.on_s + self.off_s)
        power = [(t, self.level) for t in starts_s] + [(t + self.on_s, 0.0) for t in starts_s]
        power = [one for one in power if one[0] != late_s]
        return HeatingClock.of(
            Cook.of(power=power), as_of_ms, cooling_share=self.cooling_share, cooling_max_s=3.0, cooling_after_s=1.0
        )


tenths = st.integers(30, 300).map(lambda tenth: tenth / 10)
duty_cycles = st.builds(
    Cycles,
    on_s=tenths,
    off_s=tenths,
    level=st.sampled_from([0.5, 1.0]),
    seen=st.integers(2, 8),
    phase=st.floats(0.0, 0.99),
    cooling_share=st.sampled_from([0.0, 0.05, 0.2]),
).filter(lambda cycles: cycles.is_heating)


@given(duty_cycles, gains_s)
def test_a_rhythm_is_foreseen_as_it_then_comes(cycles: Cycles, gains_s: FloatArray) -> None:
    """The foreseen moment is the first at which the clock, once the cycles have come, stands at what was asked."""
    now_s = cycles.as_of_ms / 1000
    known = cycles.clock(cycles=40, as_of_ms=cycles.as_of_ms)
    ahead_s = after_s(known, gains_s)
    assume(now_s + ahead_s.max() < 39 * (cycles.on_s + cycles.off_s))
    whole = cycles.clock(cycles=40, as_of_ms=7_200_000)
    gained_s = whole.full_power_s(now_s + ahead_s) - whole.full_power_s(now_s)
    assert gained_s == pytest.approx(gains_s, abs=1e-3)
    before_s = np.minimum(ahead_s, np.linspace(0.0, 1.0, 200)[:, None] * ahead_s)
    assert (whole.full_power_s(now_s + before_s) - whole.full_power_s(now_s) <= gains_s + 1e-3).all()


@given(duty_cycles, gains_s)
def test_a_gap_of_which_word_is_late_is_foreseen_as_it_then_comes(cycles: Cycles, gains_s: FloatArray) -> None:
    cycle_s = cycles.on_s + cycles.off_s
    now_s = cycles.as_of_ms / 1000
    off_s = cycles.seen * cycle_s + cycles.on_s
    assume(off_s + 0.01 < now_s)
    known = cycles.clock(cycles=40, as_of_ms=cycles.as_of_ms, late_s=off_s)
    assert known.due_s == pytest.approx(off_s, abs=2e-3)
    ahead_s = after_s(known, gains_s)
    assume(now_s + ahead_s.max() < 39 * cycle_s)
    whole = cycles.clock(cycles=40, as_of_ms=7_200_000)
    reached_s = np.where(gains_s > 0.0, whole.full_power_s(now_s + ahead_s), known.now_u_s)
    assert reached_s == pytest.approx(known.now_u_s + gains_s, abs=3e-3)


@given(duty_cycles)
def test_the_duty_of_a_rhythm_is_its_share_of_heat(cycles: Cycles) -> None:
    clock = cycles.clock(cycles=40, as_of_ms=cycles.as_of_ms)
    assert clock.duty() == pytest.approx(cycles.level * cycles.on_s / (cycles.on_s + cycles.off_s), rel=1e-3)
    assert clock.on_level() == cycles.level
