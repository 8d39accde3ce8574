"""The heating clock in the situations that a kitchen knows, each worked out by hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from service.readings.cook import EMPTY, Cook
from service.readings.heating import HeatingClock

Switch = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Power readings as (s, level), and what the clocks show at a moment."""

    power: tuple[Switch, ...]
    at_s: float
    full_power_s: float
    heating_s: float
    is_on: bool


DUTY_CYCLE: tuple[Switch, ...] = ((0, 1), (18, 0), (23, 1), (41, 0), (46, 1))
DOOR_OPENED: tuple[Switch, ...] = ((0, 1), (60, 0), (85, 1))


@pytest.mark.parametrize(
    "case",
    [
        pytest.param(
            Case(power=(), at_s=90, full_power_s=90, heating_s=90, is_on=True),
            id="without a power reading the oven runs at full power from the start",
        ),
        pytest.param(
            Case(power=((30, 0.5),), at_s=50, full_power_s=40, heating_s=50, is_on=True),
            id="before the first power reading too",
        ),
        pytest.param(
            Case(power=((2, 0),), at_s=50, full_power_s=2, heating_s=2, is_on=False),
            id="however soon that comes",
        ),
        pytest.param(
            Case(power=((0, 0), (4, 1)), at_s=10, full_power_s=6, heating_s=6, is_on=True),
            id="a fan that clears the air first gives no heat",
        ),
        pytest.param(
            Case(power=((0, 1), (3, 0)), at_s=20, full_power_s=3, heating_s=3, is_on=False),
            id="off stays off until it is said to be on",
        ),
        pytest.param(
            Case(power=DUTY_CYCLE, at_s=50, full_power_s=40, heating_s=40, is_on=True),
            id="the gaps of a duty cycle do not count",
        ),
        pytest.param(
            Case(power=DUTY_CYCLE, at_s=44, full_power_s=36, heating_s=36, is_on=False),
            id="nor does the gap that is not over",
        ),
        pytest.param(
            Case(power=DOOR_OPENED, at_s=100, full_power_s=75, heating_s=75, is_on=True),
            id="nor does an open door",
        ),
        pytest.param(
            Case(power=((0, 0.5),), at_s=80, full_power_s=40, heating_s=80, is_on=True),
            id="an inverter oven at half power gives half the heat for the whole time",
        ),
        pytest.param(
            Case(power=((0, 1), (60, 0.4), (90, 1)), at_s=100, full_power_s=82, heating_s=100, is_on=True),
            id="a power that is turned down late counts from then",
        ),
        pytest.param(
            Case(power=((0, 1), (10, 1), (20, 1), (30, 0)), at_s=40, full_power_s=30, heating_s=30, is_on=False),
            id="a level that is said again changes nothing",
        ),
        pytest.param(
            Case(power=((0, 1), (50, 0)), at_s=40, full_power_s=40, heating_s=40, is_on=True),
            id="a power reading later than now does not count yet",
        ),
    ],
)
def test_the_clocks_show(case: Case) -> None:
    clock = HeatingClock.of(Cook.of(power=case.power), round(case.at_s * 1000))
    assert clock.full_power_s(case.at_s) == pytest.approx(case.full_power_s)
    assert clock.heating_s(case.at_s) == pytest.approx(case.heating_s)
    assert clock.is_on() is case.is_on


@pytest.mark.parametrize(
    ("power", "as_of_s", "gain_s", "ahead_s"),
    [
        pytest.param((), 60, 20, 20, id="at full power a second is a second"),
        pytest.param(((0, 0.5),), 60, 20, 40, id="at half power it takes two"),
        pytest.param(((0, 1), (60, 0.5)), 70, 20, 40, id="the level that holds now goes on"),
        pytest.param(DUTY_CYCLE, 46, 18, 18, id="one on-period is the length that it was"),
        pytest.param(DUTY_CYCLE, 50, 18, 23, id="the gap that is due is waited for"),
        pytest.param(DUTY_CYCLE, 50, 36, 46, id="and so is the one after it"),
        pytest.param((*DUTY_CYCLE, (64, 0)), 66, 10, 13, id="in a gap, its rest is waited for first"),
        pytest.param((*DUTY_CYCLE, (64, 0)), 66, 0, 0, id="what is reached already takes no time"),
        pytest.param(((0, 1), (18, 0), (23, 1)), 30, 20, 20, id="one cycle is no rhythm yet"),
        pytest.param(DOOR_OPENED, 100, 20, 20, id="an open door is no rhythm"),
        pytest.param(DOOR_OPENED, 70, 20, 20, id="while the door is open, heating goes on at once"),
        pytest.param(((0, 1), (10, 0), (20, 1), (60, 0), (63, 1)), 70, 20, 20, id="two pauses unlike are no rhythm"),
        pytest.param((*DUTY_CYCLE, (64, 0)), 80, 20, 20, id="a gap that lasts too long has left the rhythm"),
        pytest.param(DUTY_CYCLE, 80, 20, 20, id="so has an on-period that does, once a gap would be over"),
        pytest.param(DUTY_CYCLE, 65, 18, 22, id="a gap of which no word has come yet goes by all the same"),
        pytest.param(
            ((0, 1), (18, 0), (23, 1), (41, 0), (46, 1), (56, 0), (61, 1), (91, 0), (96, 1)),
            96,
            20,
            20,
            id="half of the cycles alike are no rhythm",
        ),
        pytest.param(
            (*DUTY_CYCLE, (64, 0), (69, 1), (80, 0), (120, 1), (138, 0), (143, 1)),
            143,
            20,
            25,
            id="a door that was opened once does not hide the rhythm",
        ),
        pytest.param(
            ((0, 1), (18.3, 0), (22.9, 1), (41.2, 0), (46.4, 1)),
            46.4,
            20,
            24.9,
            id="switches reported by a poll are a rhythm still",
        ),
        pytest.param(
            ((0, 0.5), (10, 0), (20, 0.5), (30, 0), (40, 0.5)), 40, 10, 30, id="a rhythm at half power, twice as slow"
        ),
        pytest.param(((0, 0),), 5, 20, 20, id="an oven that was never on is taken to start at full power"),
    ],
)
def test_looking_ahead(power: tuple[Switch, ...], as_of_s: float, gain_s: float, ahead_s: float) -> None:
    clock = HeatingClock.of(Cook.of(power=power), round(as_of_s * 1000))
    assert clock.cook_s_after(gain_s) == pytest.approx(ahead_s)


@pytest.mark.parametrize(
    ("power", "as_of_s", "more_s", "ahead_s"),
    [
        pytest.param((), 60, 20, 20, id="at full power a second is a second"),
        pytest.param(((0, 0.5),), 60, 20, 20, id="half power is heating all the time"),
        pytest.param(DUTY_CYCLE, 50, 18, 23, id="the gap of a rhythm is no heating"),
        pytest.param((*DUTY_CYCLE, (64, 0)), 66, 10, 13, id="nor what is left of the one it is in"),
        pytest.param(DOOR_OPENED, 70, 20, 20, id="with the door open, heating goes on at once"),
        pytest.param(
            ((0, 0.5), (10, 0), (20, 0.5), (30, 0), (40, 0.5)), 40, 12, 22, id="a rhythm at half power heats as long"
        ),
        pytest.param(DUTY_CYCLE, 50, 0, 0, id="none more takes no time"),
        pytest.param(DUTY_CYCLE, 50, -3, 0, id="nor does what is over already"),
    ],
)
def test_looking_ahead_to_so_much_more_heating(
    power: tuple[Switch, ...], as_of_s: float, more_s: float, ahead_s: float
) -> None:
    clock = HeatingClock.of(Cook.of(power=power), round(as_of_s * 1000), cooling_share=0.5, cooling_max_s=3.0)
    assert clock.cook_s_of_heating(more_s) == pytest.approx(ahead_s)


def test_looking_ahead_over_an_off_period_takes_so_much_longer() -> None:
    clock = HeatingClock.of(Cook.of(power=DUTY_CYCLE), 46_000)
    assert [clock.cook_s_after(gain_s) for gain_s in (-1.0, 0.0, 1.0, 18.0, 19.0, 36.0)] == [
        0.0,
        0.0,
        1.0,
        18.0,
        24.0,
        41.0,
    ]


@pytest.mark.parametrize(
    ("power", "at_s", "full_power_s"),
    [
        pytest.param(DOOR_OPENED, 60, 60.0, id="nothing is lost when the door opens"),
        pytest.param(DOOR_OPENED, 66, 60.0, id="nor in the first seconds"),
        pytest.param(DOOR_OPENED, 76, 59.0, id="then a tenth of the time"),
        pytest.param(DOOR_OPENED, 85, 58.1, id="until heating goes on"),
        pytest.param(DOOR_OPENED, 95, 68.1, id="from where it had got to"),
        pytest.param(((0, 1), (60, 0)), 96, 57.0, id="a long pause takes no more than its most"),
        pytest.param(((0, 1), (60, 0)), 3600, 57.0, id="however long"),
        pytest.param(((0, 1), (2, 0)), 600, 0.0, id="and no more than was there"),
        pytest.param(((0, 1), (60, 0), (600, 1), (602, 0)), 1200, 57.0, id="or than the last on-period brought"),
        pytest.param(DUTY_CYCLE, 46, 36.0, id="the gaps of a duty cycle are too short to count"),
        pytest.param(((0, 0), (30, 1)), 40, 10.0, id="food that was never heated does not cool"),
    ],
)
def test_a_pause_takes_back_a_tenth_of_its_time_after_six_seconds_and_three_seconds_at_most(
    power: tuple[Switch, ...], at_s: float, full_power_s: float
) -> None:
    clock = HeatingClock.of(
        Cook.of(power=power), round(at_s * 1000), cooling_share=0.1, cooling_max_s=3.0, cooling_after_s=6.0
    )
    assert clock.full_power_s(at_s) == pytest.approx(full_power_s)


@pytest.mark.parametrize(("share", "most_s"), [(0.0, 3.0), (0.1, 0.0)])
def test_without_a_share_or_a_most_nothing_cools(share: float, most_s: float) -> None:
    clock = HeatingClock.of(Cook.of(power=DOOR_OPENED), 100_000, cooling_share=share, cooling_max_s=most_s)
    assert clock.full_power_s(100.0) == 75.0


@pytest.mark.parametrize(
    ("power", "as_of_s", "duty", "on_level"),
    [
        pytest.param((), 60, 1.0, 1.0, id="no power reading"),
        pytest.param(((0, 0.5),), 60, 1.0, 0.5, id="an inverter oven is on all the time, at half its power"),
        pytest.param(DUTY_CYCLE, 50, 18 / 23, 1.0, id="a duty cycle"),
        pytest.param((*DUTY_CYCLE, (64, 0)), 66, 18 / 23, 1.0, id="a duty cycle in its gap"),
        pytest.param(DUTY_CYCLE, 90, 1.0, 1.0, id="a duty cycle that has ended"),
        pytest.param(DOOR_OPENED, 100, 1.0, 1.0, id="an open door"),
        pytest.param(((0, 1), (30, 0.4), (40, 0)), 50, 1.0, 0.4, id="the level that was last on"),
    ],
)
def test_duty_and_level(power: tuple[Switch, ...], as_of_s: float, duty: float, on_level: float) -> None:
    clock = HeatingClock.of(Cook.of(power=power), round(as_of_s * 1000))
    assert clock.duty() == pytest.approx(duty)
    assert clock.on_level() == on_level


@pytest.mark.parametrize(("since_s", "on_s"), [(46, 4), (41, 4), (40, 5), (0, 40), (50, 0), (60, 0)])
def test_a_silence_counts_only_while_the_magnetron_is_on(since_s: float, on_s: float) -> None:
    assert HeatingClock.of(Cook.of(power=DUTY_CYCLE), 50_000).on_s_since(since_s) == pytest.approx(on_s)


@pytest.mark.parametrize(
    ("power", "as_of_s", "due_s"),
    [
        pytest.param(DUTY_CYCLE, 63, None, id="not due yet"),
        pytest.param(DUTY_CYCLE, 65, 64, id="due, and nobody has told"),
        pytest.param((*DUTY_CYCLE, (64.4, 1)), 66, None, id="told to be on still"),
        pytest.param((*DUTY_CYCLE, (64.2, 0)), 66, None, id="told to be off"),
        pytest.param((*DUTY_CYCLE, (55, 1)), 68, 64, id="told before it was due"),
        pytest.param(DUTY_CYCLE, 75, None, id="by now it would be on again"),
        pytest.param(DOOR_OPENED, 100, None, id="no rhythm"),
    ],
)
def test_where_a_switching_off_is_due_the_clock_waits_for_word_of_it(
    power: tuple[Switch, ...], as_of_s: float, due_s: float | None
) -> None:
    clock = HeatingClock.of(Cook.of(power=power), round(as_of_s * 1000))
    assert clock.due_s == due_s
    assert clock.now_u_s == clock.full_power_s(as_of_s if due_s is None else due_s)
    assert clock.now_heating_s == clock.heating_s(as_of_s)  # what a cap counts is not put off by a guess


def test_many_pops_are_put_on_the_heating_clock_at_once() -> None:
    clock = HeatingClock.of(Cook.of(power=DUTY_CYCLE), 60_000)
    assert clock.full_power_s(np.array([10.0, 18.0, 20.0, 23.0, 24.0])).tolist() == [10.0, 18.0, 18.0, 18.0, 19.0]


def test_the_clock_starts_at_zero() -> None:
    clock = HeatingClock.of(EMPTY, 0)
    assert (clock.full_power_s(0.0), clock.heating_s(0.0), clock.full_power_s(-5.0)) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("power", "level"),
    [
        pytest.param((), 1.0, id="nothing was told"),
        pytest.param(((0, 0.6),), 0.6, id="part power"),
        pytest.param(((0, 1), (60, 0.5)), 0.5, id="turned down a while ago"),
        pytest.param(((0, 1), (99, 0.4), (100, 0)), 1.0, id="a meter that saw the last second in part"),
        pytest.param(((0, 0), (98, 0.3), (99, 0.9)), 0.9, id="and the first"),
        pytest.param(((0, 0),), 1.0, id="never on"),
    ],
)
def test_the_level_while_on_is_the_one_that_it_mostly_had(power: tuple[Switch, ...], level: float) -> None:
    assert HeatingClock.of(Cook.of(power=power), 105_000).on_level() == level


def test_what_is_regained_after_a_pause_is_no_new_heat() -> None:
    """Off from 60 to 85 s, of which 20 s cost a quarter each: the highest so far moves again from 90 s on."""
    clock = HeatingClock.of(
        Cook.of(power=DOOR_OPENED), 120_000, cooling_share=0.25, cooling_max_s=9.0, cooling_after_s=5.0
    )
    moments_s = np.array([60.0, 85.0, 90.0, 95.0])
    assert clock.hottest_u_s(moments_s) == pytest.approx([60.0, 60.0, 60.0, 65.0])
    assert clock.full_power_s(moments_s) == pytest.approx([60.0, 55.0, 60.0, 65.0])
    assert [clock.hottest_u_s(float(at_s)) for at_s in moments_s] == pytest.approx([60.0, 60.0, 60.0, 65.0])
