"""Steam that is none of the cook's, and what befalls the readings of a humidity sensor that works."""

from dataclasses import fields, replace

import numpy as np
import pytest

from tests.simulation.elsewhere_kinds import ELSEWHERE
from tests.simulation.popcorn_kinds import drawn_recipe
from tests.simulation.sensor_faults import SensorFaults
from tests.simulation.sensors import Air, cavity_vapour_g_m3, kitchen_vapour_g_m3
from tests.simulation.simulator import simulate
from tests.simulation.surroundings import Surroundings

NO_FAULTS = SensorFaults(**{field.name: 0.0 for field in fields(SensorFaults)})
NOTHING = Surroundings(**{field.name: 0.0 for field in fields(Surroundings)})
STEPS = 600
READINGS = [(float(t), 40.0 + t / 10.0, 22.0) for t in range(100)]


def befallen(**faults: float) -> list[tuple[float, float, float | None]]:
    return replace(NO_FAULTS, **faults).befall(READINGS, 60.0, np.random.default_rng(1))


def cavity_g_m3(around: Surroundings) -> tuple[Air, np.ndarray]:
    air = drawn_recipe("regular", np.random.default_rng(2)).air
    return air, cavity_vapour_g_m3(air, np.zeros(STEPS), np.full(STEPS, air.kitchen_c), around=around)


def test_kinds_of_steam_elsewhere_leave_the_cook_itself_as_it_was() -> None:
    for kind in ELSEWHERE:
        recipe = drawn_recipe(f"{kind}-unheard", np.random.default_rng(5))
        usual = drawn_recipe("mic-dead", np.random.default_rng(5))
        for part in ("corn", "oven", "power", "bag", "microphone", "link"):
            assert getattr(recipe, part) == getattr(usual, part), (kind, part)


def test_steam_in_the_kitchen_reaches_the_cavity_and_goes_again() -> None:
    around = replace(NOTHING, steam_at_s=50.0, steam_over_s=10.0, steam_lasts_s=100.0, steam_g_m3=3.0)
    air, vapour = cavity_g_m3(around)
    kitchen = kitchen_vapour_g_m3(air)
    assert vapour[:100] == pytest.approx(kitchen)
    assert vapour[round(149.0 / 0.5)] == pytest.approx(kitchen + 3.0, abs=0.1)
    assert vapour[-1] == pytest.approx(kitchen, abs=0.1)


def test_wet_walls_give_back_all_that_they_held() -> None:
    """What the air carries off, over the time in which it is renewed once, is what dried; within a hundredth."""
    air, vapour = cavity_g_m3(replace(NOTHING, wet_g_m3=8.0))
    carried_off = float(((vapour - kitchen_vapour_g_m3(air)) * 0.5 / air.flush_s).sum())
    assert carried_off == pytest.approx(8.0, rel=0.01)


def test_a_faster_fan_halves_the_time_in_which_moist_air_goes() -> None:
    slow, fast = (cavity_g_m3(replace(NOTHING, moist_g_m3=5.0, fan_more=more)) for more in (0.0, 1.0))
    excess = [float((vapour - kitchen_vapour_g_m3(air)).sum()) for air, vapour in (slow, fast)]
    assert excess[1] == pytest.approx(excess[0] / 2.0, rel=0.15)


def test_without_faults_the_readings_arrive_as_they_were() -> None:
    assert befallen() == READINGS


def test_each_fault_does_what_it_says() -> None:
    assert [t for t, _, _ in befallen(every_s=7.5)][:4] == [0.0, 8.0, 16.0, 24.0]
    assert befallen(joins_at_s=30.0) == READINGS[30:]
    assert befallen(gap_from_s=-5.0, gap_s=20.0) == [*READINGS[:55], *READINGS[75:]]
    assert befallen(joins_at_s=200.0) == []
    assert max(rh for _, rh, _ in befallen(tops_out_pct=45.04)) == 45.0
    assert all(rh == round(rh) for _, rh, _ in befallen(whole_pct=1.0))
    wild = [rh for (_, rh, _), (_, was, _) in zip(befallen(wild_share=0.3), READINGS, strict=True) if rh != was]
    assert 20 <= len(wild) <= 40
    assert {0.0, 100.0} < set(wild)


@pytest.mark.parametrize("how", [0.1, 0.5, 0.9])
def test_air_is_told_too_warm_in_jumps_or_as_it_was_at_first(how: float) -> None:
    told = [c for _, _, c in befallen(air_wrong_k=5.0, air_how=how)]
    expected = {0.1: {27.0}, 0.9: {22.0}}
    assert set(told) == expected[how] if how in expected else len(set(told)) > 2


def test_a_cook_with_seldom_readings_has_few() -> None:
    seldom, missing = (simulate(f"{kind}-unheard", 3, network=False) for kind in ("seldom-read", "readings-missing"))
    assert max(len(post["readings"].get("humidity", [])) for post in seldom.log) == 1
    times = [one["t"] for post in missing.log for one in post["readings"].get("humidity", [])]
    assert float(np.diff(times).max()) > 9.0
