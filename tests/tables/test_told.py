"""The evidence as it is told beside a decision: each number on the clock and in the unit that its name says."""

import numpy as np
import pytest

from service.readings.cook import Cook
from tests.cooks import POPCORN, ask, drawn_pops_s, steaming_rows, told

PULSES = [(0.0, 1.0), (18.0, 0.0), (23.0, 1.0), (41.0, 0.0), (46.0, 1.0)]
BAG = Cook.of(pops_s=drawn_pops_s(420, 100.0, 14.0, seed=5), humidity=steaming_rows(170.0, released_s=97.0))


@pytest.mark.parametrize(
    ("power", "heating"),
    [
        pytest.param([], (50.0, 50.0, 1.0), id="full power from the start"),
        pytest.param(PULSES, (40.0, 40.0, 18.0 / 23.0), id="a rhythm"),
        pytest.param([(0.0, 0.5)], (50.0, 25.0, 1.0), id="half power all the time is no rhythm"),
        pytest.param([(0.0, 1.0), (40.0, 0.0)], (40.0, 38.0, 1.0), id="an open door is none either, and cools"),
    ],
)
def test_heating_tells_the_time_with_power_on_the_heat_and_the_rhythm(
    power: list[tuple[float, float]], heating: tuple[float, float, float]
) -> None:
    said = told(ask(Cook.of(power=power), 50.0), "heating")
    assert (said["heating_s"], said["full_power_s"], said["duty_cycle"]) == pytest.approx(heating, abs=0.01)


@pytest.mark.parametrize("sensor", ["acoustic", "moisture"])
def test_what_each_sensor_alone_foretells_lies_on_the_cook_clock(sensor: str) -> None:
    answer = ask(BAG, 115.0)
    assert answer.remaining is not None
    assert told(answer, sensor)["stop_s"] == pytest.approx(115.0 + answer.remaining.estimate_s, abs=15.0)


def test_steam_is_told_with_its_baseline_its_onset_and_its_steepest_rise() -> None:
    before, after = (told(ask(BAG, as_of_s), "moisture") for as_of_s in (60.0, 115.0))
    assert (before["baseline_g_m3"], after["baseline_g_m3"]) == pytest.approx((9.0, 9.0), abs=0.2)
    assert (before["onset_s"], before["slope_g_m3_s"], before["stop_s"]) == (None, None, None)
    assert after["onset_s"] == pytest.approx(97.0, abs=3.0)
    assert 1.0 < after["slope_g_m3_s"] < 10.0
    assert after["vapour_g_m3"] == pytest.approx(29.0, abs=1.0)


def test_a_dead_time_read_off_the_gaps_is_believed_up_to_the_most_of_the_programme() -> None:
    """Pops that come like clockwork leave long gaps alone; no microphone is blind for as long as that."""
    most_s = POPCORN.number("dead_time_most_s")
    clockwork = Cook.of(pops_s=np.arange(60.0, 120.0, 2.0 * most_s))
    assert told(ask(clockwork, 120.0), "acoustic")["dead_time_s"] == most_s
