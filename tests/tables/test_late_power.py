"""Power that a hub stamps late is put where the silences are."""

import numpy as np
import pytest

from service.evidence.late_power import with_power_in_time
from service.programs.heating import heating_clock
from service.readings.cook import Cook
from tests.cooks import POPCORN, FloatArray, drawn_pops_s, first_stop, whole

GRID_S = np.arange(0.0, 400.0, 0.01)
PULSES = [(t, level) for start_s in range(0, 400, 20) for t, level in ((float(start_s), 1.0), (start_s + 13.0, 0.0))]
PAUSE = [(0.0, 1.0), (92.0, 0.0), (108.0, 1.0)]


def told_late(power: list[tuple[float, float]], late_s: float, seed: int) -> Cook:
    """A bag that pops by this power, whose changes are told late."""
    u_s: FloatArray = heating_clock(POPCORN, Cook.of(power=power), 400_000).hottest_u_s(GRID_S)
    pops_s = GRID_S[u_s.searchsorted(drawn_pops_s(420, 100.0, 14.0, seed=seed))]
    told = [(t + late_s if t > 0.0 else t, level) for t, level in power]
    return Cook.of(pops_s=pops_s, power=told)


@pytest.mark.parametrize(
    ("power", "late_s"), [(PAUSE, 6.0), (PAUSE, 11.0), (PULSES, 3.0), (PULSES, 6.0), (PULSES, 11.0)]
)
def test_the_changes_are_put_back_by_as_much_as_they_were_late(power: list[tuple[float, float]], late_s: float) -> None:
    for seed in range(4):
        cook = told_late(power, late_s, seed)
        in_time = with_power_in_time(cook)
        assert in_time.power_ms[1:] / 1000.0 == pytest.approx([t for t, _ in power[1:]], abs=1.0)
        assert in_time.power_permille.tolist() == cook.power_permille.tolist()


@pytest.mark.parametrize("kind", ["duty-cycle", "paused", "relay-clicks", "power-polled", "noisy", "power-untold"])
def test_what_was_told_in_time_stays(kind: str) -> None:
    for seed in range(3):
        cook = whole(kind, seed)
        for as_of_s in (90, 120, 150, 300):
            seen = cook.until(1000 * as_of_s)
            assert with_power_in_time(seen) is seen


def test_something_that_clicks_on_whatever_the_power_moves_nothing() -> None:
    clicks_s = np.arange(60.0, 160.0, 0.37)
    cook = Cook.of(pops_s=clicks_s, power=PULSES)
    assert with_power_in_time(cook) is cook


def test_no_change_is_put_before_the_start() -> None:
    """Of the changes that would come before it the last holds at it."""
    cook = told_late(PAUSE, 8.0, 1)
    in_time = with_power_in_time(cook.merged(Cook.of(power=[(4.0, 0.0), (5.0, 0.9)])))
    assert in_time.power_ms[0] == 0
    assert (np.diff(in_time.power_ms) > 0).all()
    assert in_time.power_permille.tolist() == [900, 0, 1000]


def test_the_stop_is_about_that_of_a_hub_that_tells_in_time() -> None:
    """Of what was switched in the last seconds the late one has not told yet."""
    for seed in range(4):
        stops_s = [first_stop(told_late(PULSES, late_s, seed), from_s=60.0).as_of_s for late_s in (0.0, 8.0)]
        assert abs(stops_s[1] - stops_s[0]) <= 10.0
