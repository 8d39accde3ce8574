"""Power that is told as off while the bag pops or steams, and levels that are none of the magnetron's."""

import numpy as np
import pytest

from service.evidence.refuted_power import believed_power
from service.forecast.popcorn_model import popcorn_model
from service.readings.cook import Cook
from tests.cooks import POPCORN, ask, drawn_pops_s, first_stop, humidity_rows, steaming_rows, told

POPS_S = drawn_pops_s(420, 100.0, 14.0, seed=5)
GOOD_S = (128.0, 135.5)
"""Good stops of such a bag: from 1.2 pops a second down to one in two seconds."""
DRY = Cook.of(humidity=humidity_rows(np.arange(0.0, 300.0), np.full(300, 9.0) + np.arange(300) % 2 * 0.1))


def believed(cook: Cook) -> list[tuple[float, float]]:
    model = popcorn_model(POPCORN)
    of_it = believed_power(cook, model.acoustic, model.moisture)
    return list(zip((of_it.power_ms / 1000.0).tolist(), (of_it.power_permille / 1000.0).tolist(), strict=True))


def popping(power: list[tuple[float, float]]) -> Cook:
    return Cook.of(pops_s=POPS_S, power=power)


def test_a_bag_that_pops_in_an_oven_that_was_never_said_to_be_on_is_heated_from_the_beginning() -> None:
    assert believed(popping([(0.0, 0.0)])) == believed(popping([(float(t), 0.0) for t in range(200)])) == []
    stop = first_stop(popping([(0.0, 0.0)]).merged(DRY), from_s=60.0, until_s=200.0)
    assert GOOD_S[0] - 4.0 <= stop.as_of_s <= GOOD_S[1] + 4.0


def test_both_the_beginning_and_the_end_of_a_pause_can_be_lost() -> None:
    shifted_s = np.where(POPS_S > 91.0, POPS_S + 19.0, POPS_S)
    power = believed(Cook.of(pops_s=shifted_s, power=[(0.0, 0.0), (88.0, 1.0), (90.0, 0.0)]))
    assert power == [(88.0, 1.0), (90.0, 0.0), (pytest.approx(110.0, abs=3.0), 1.0)]


def test_a_bag_that_steams_in_such_an_oven_is_heated_too() -> None:
    unheard = Cook.of(power=[(0.0, 0.0)], humidity=steaming_rows(300.0, released_s=97.0))
    assert believed(unheard) == []
    assert first_stop(unheard, from_s=60.0, until_s=200.0).reasons[0].rule == "steam-clock-reached"


def test_without_a_pop_or_steam_an_oven_that_is_off_is_off() -> None:
    assert believed(DRY.merged(Cook.of(power=[(0.0, 0.0)]))) == [(0.0, 0.0)]
    assert ask(DRY.merged(Cook.of(power=[(0.0, 0.0)])), 200.0).reasons[0].rule == "heating-off"


def test_where_the_end_of_a_pause_was_lost_it_is_on_from_the_first_pop_of_a_run() -> None:
    """Off at 70 s: pops come until 71 s, and after the pause from 90 s on."""
    shifted_s = np.where(POPS_S > 71.0, POPS_S + 19.0, POPS_S)
    power = believed(Cook.of(pops_s=shifted_s, power=[(0.0, 0.0), (2.0, 0.7), (70.0, 0.0)]))
    assert power[:3] == [(0.0, 0.0), (2.0, 0.7), (70.0, 0.0)]
    assert power[3:] == [(pytest.approx(90.0, abs=4.0), 0.7)]


@pytest.mark.parametrize(
    "cook",
    [
        pytest.param(popping([]), id="no power was told"),
        pytest.param(popping([(0.0, 1.0), (60.0, 0.6)]), id="it was never off"),
        pytest.param(popping([(0.0, 1.0), (90.0, 0.0), (97.0, 1.0)]), id="an off-period that is short is told late"),
        pytest.param(
            Cook.of(pops_s=[*POPS_S[POPS_S < 100.5], 108.0, 115.0, 121.0], power=[(0.0, 1.0), (100.0, 0.0)]),
            id="a few strays in a pause are no popping",
        ),
        pytest.param(
            Cook.of(
                pops_s=np.sort(np.concatenate((POPS_S[POPS_S < 100.5], np.arange(100.4, 160.0, 2.7)))),
                power=[(0.0, 1.0), (100.0, 0.0)],
            ),
            id="nor is a slow clutter",
        ),
    ],
)
def test_power_is_believed_where_nothing_speaks_against_it(cook: Cook) -> None:
    model = popcorn_model(POPCORN)
    assert believed_power(cook, model.acoustic, model.moisture) is cook


def metered(every_s: float, idle: float, seed: int) -> Cook:
    """A duty cycle of 14 s on and 6 s off, as a meter tells it that errs by a twentieth and sees lamp and fan."""
    at_s = np.arange(0.0, 400.0, every_s)
    level = np.where(at_s % 20.0 < 14.0, 1.0, idle) * np.random.default_rng(seed).normal(1.0, 0.05, at_s.size)
    return Cook.of(power=np.column_stack((at_s, np.minimum(level, 1.0))))


def of_duty_cycle(heating_s: np.typing.NDArray[np.float64]) -> np.typing.NDArray[np.float64]:
    """Moments of the cook at which such an oven has heated for so long."""
    return heating_s // 14.0 * 20.0 + heating_s % 14.0


@pytest.mark.parametrize(("every_s", "idle"), [(1.0, 0.0), (1.0, 0.03), (2.0, 0.05)])
def test_a_meter_that_sees_lamp_and_fan_ends_a_cook_as_switchings_that_are_told_do(every_s: float, idle: float) -> None:
    for seed in range(4):
        pops = Cook.of(pops_s=of_duty_cycle(drawn_pops_s(420, 100.0, 14.0, seed=seed)))
        switched = Cook.of(
            power=[(t, level) for n in range(20) for t, level in ((20.0 * n, 1.0), (20.0 * n + 14.0, 0.0))]
        )
        stop = first_stop(pops.merged(metered(every_s, idle, seed)), from_s=60.0)
        assert stop.as_of_s == pytest.approx(first_stop(pops.merged(switched), from_s=60.0).as_of_s, abs=7.0)


def test_what_lamp_and_fan_draw_is_no_heating() -> None:
    cook = Cook.of(pops_s=POPS_S[POPS_S < 100.0], power=[(0.0, 1.0), (100.0, 0.04)])
    assert told(ask(cook, 115.0), "acoustic")["silence_s"] < 0.5
    assert ask(cook, 115.0).reasons[0].rule == "heating-off"


def test_a_level_that_is_low_from_the_beginning_is_one_of_the_oven() -> None:
    heating = told(ask(Cook.of(power=[(0.0, 0.05)]), 90.0), "heating")
    assert heating["heating_s"] == 90.0
    assert heating["full_power_s"] == pytest.approx(4.5)


def test_what_lamp_and_fan_draw_puts_off_no_cap() -> None:
    """Nobody can tell them from a magnetron at next to nothing."""
    decision = ask(Cook.of(power=[(0.0, 1.0), (60.0, 0.04)]), 90.0)
    assert told(decision, "heating")["heating_s"] == 90.0
    assert decision.stop_by_s <= POPCORN.number("max_heating_s")
