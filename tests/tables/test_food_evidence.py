"""What the humidity sensor says of food: when it steamed, how the steam grew, and when the sensor is not to be believed."""

import numpy as np
import pytest

from service.evidence.food_moisture import FoodMoisture, food_moisture
from service.evidence.steam_growth import GrowthNumbers, SteamGrowth, steam_growth
from service.readings.cook import EMPTY, Cook
from service.readings.heating import HeatingClock
from tests.cooks import FloatArray, humidity_rows
from tests.meals import MOISTURE_NUMBERS, PowerPairs, steaming_meal

PAUSE: PowerPairs = [(0.0, 1.0), (60.0, 0.0), (80.0, 1.0)]


def seen(rows: FloatArray, until_s: float, power: PowerPairs | None = None) -> FoodMoisture:
    """The evidence of these rows up to a moment."""
    cook = Cook.of(humidity=rows.tolist(), power=power or ()).until(round(1000.0 * until_s))
    return food_moisture(cook, HeatingClock.of(cook, round(1000.0 * until_s)), MOISTURE_NUMBERS)


def onset_s(found: FoodMoisture) -> float | None:
    return None if found.moisture.steam is None else found.moisture.steam.onset_s


@pytest.mark.parametrize("steams_s", [60.0, 110.0, 240.0])
@pytest.mark.parametrize("seed", range(3))
def test_the_onset_is_dated_to_within_seconds_once_the_rise_is_seen(steams_s: float, seed: int) -> None:
    found = onset_s(seen(steaming_meal(steams_s + 40.0, steams_s=steams_s, seed=seed), steams_s + 40.0))
    assert found == pytest.approx(steams_s, abs=7.0)


def test_it_is_dated_where_no_air_temperature_is_told_too() -> None:
    found = onset_s(seen(steaming_meal(150.0, steams_s=110.0, air_c=None), 150.0))
    assert found == pytest.approx(110.0, abs=8.0)


def test_a_slow_rise_is_a_badly_placed_sensor_and_not_a_bigger_meal() -> None:
    fast, slow = (
        onset_s(seen(steaming_meal(190.0, steams_s=110.0, grows_s=grows_s), 190.0)) for grows_s in (15.0, 30.0)
    )
    assert fast is not None
    assert slow == pytest.approx(fast, abs=8.0)


@pytest.mark.parametrize("creep_g_m3_s", [0.0, 0.01, 0.025, -0.02])
@pytest.mark.parametrize("seed", range(4))
def test_air_that_creeps_is_no_steam(creep_g_m3_s: float, seed: int) -> None:
    t_s = np.arange(0.0, 300.0)
    noise = np.random.default_rng(seed).normal(0.0, 0.06, t_s.size)
    assert onset_s(seen(humidity_rows(t_s, 10.0 + creep_g_m3_s * t_s + noise, 35.0), 299.0)) is None


def test_one_bad_sample_is_no_steam() -> None:
    t_s = np.arange(0.0, 200.0)
    vapour = 9.0 + np.random.default_rng(1).normal(0.0, 0.05, t_s.size)
    vapour[120] = 20.0
    assert onset_s(seen(humidity_rows(t_s, vapour, 35.0), 199.0)) is None


def test_an_open_door_raises_no_alarm_and_hides_no_steam_after_it() -> None:
    rows = steaming_meal(200.0, steams_s=140.0)
    stirred = rows.copy()
    in_pause = (rows[:, 0] >= 60.0) & (rows[:, 0] < 90.0)
    stirred[in_pause, 1] += 8.0
    assert onset_s(seen(stirred, 130.0, PAUSE)) is None
    assert onset_s(seen(stirred, 180.0, PAUSE)) == pytest.approx(140.0, abs=7.0)


def test_the_gaps_of_a_rhythm_are_no_pauses() -> None:
    pulses = [(10.0 * k, float(k % 2 == 0)) for k in range(20)]
    assert onset_s(seen(steaming_meal(190.0, steams_s=140.0), 185.0, pulses)) == pytest.approx(140.0, abs=7.0)


def test_a_sensor_that_never_moves_or_is_full_from_the_start_is_suspect() -> None:
    t_s = np.arange(0.0, 100.0)
    stuck = np.column_stack((t_s, np.full(t_s.size, 41.0), np.full(t_s.size, 23.0)))
    full = np.column_stack((t_s, np.full(t_s.size, 100.0), 23.0 + 0.05 * t_s))
    assert [seen(rows, 99.0).moisture.status for rows in (stuck, full)] == ["suspect", "suspect"]
    assert seen(stuck, 99.0).growth is None


def test_without_readings_the_sensor_is_absent_and_at_first_it_waits() -> None:
    nothing = food_moisture(EMPTY, HeatingClock.of(EMPTY, 60_000), MOISTURE_NUMBERS)
    assert nothing.moisture.status == "absent"
    assert seen(steaming_meal(100.0, steams_s=60.0), 2.0).moisture.status == "waiting"
    assert seen(steaming_meal(100.0, steams_s=60.0), 40.0).moisture.status == "usable"


GROWTH = GrowthNumbers(growth_early_s=10.0, growth_late_s=24.0)
U_S = np.arange(0.0, 60.0)


def grown(excess: FloatArray, ran_through_s: float = 60.0) -> SteamGrowth:
    return steam_growth(U_S[: excess.size], excess, ran_through_u_s=ran_through_s, numbers=GROWTH)


def test_growth_is_the_logarithm_of_later_over_earlier() -> None:
    assert grown(U_S).growth == pytest.approx(np.log(23.5 / 9.5))
    assert grown(np.full(60, 5.0)).growth == pytest.approx(0.0)


@pytest.mark.parametrize(("samples", "ran_through_s"), [(26, 60.0), (60, 20.0)])
def test_growth_is_not_told_before_it_is_over_or_across_a_pause(samples: int, ran_through_s: float) -> None:
    assert grown(U_S[:samples], ran_through_s).growth is None


def test_what_was_released_is_an_integral_and_vigour_falls_when_the_boil_dies_down() -> None:
    assert grown(np.full(60, 5.0)).released_g_s_m3 == pytest.approx(5.0 * 59.0)
    dying = np.where(U_S < 30.0, 5.0, 1.0)
    assert grown(np.full(60, 5.0)).vigour == pytest.approx(1.0)
    assert grown(dying).vigour == pytest.approx(0.2)
    assert grown(np.zeros(60)).vigour == 0.0


def test_no_sample_is_no_growth() -> None:
    with pytest.raises(ValueError, match="at least one sample"):
        grown(U_S[:0])


def test_air_that_a_pause_has_changed_for_long_is_no_steam() -> None:
    t_s = np.arange(0.0, 300.0)
    settles = np.where(t_s >= 60.0, 1.5 * np.exp(-np.maximum(t_s - 80.0, 0.0) / 40.0), 0.0)
    noise = np.random.default_rng(2).normal(0.0, 0.05, t_s.size)
    rows = humidity_rows(t_s, 9.0 - 0.01 * t_s + settles + noise, 35.0)
    assert onset_s(seen(rows, 299.0, PAUSE)) is None
    steaming = rows.copy()
    steaming[:, 1] += 0.15 * np.clip(t_s - 200.0, 0.0, 60.0)
    assert onset_s(seen(steaming, 270.0, PAUSE)) == pytest.approx(200.0, abs=10.0)


@pytest.mark.parametrize("steams_s", [25.0, 40.0, 110.0])
def test_an_oven_that_clears_the_air_before_it_heats_has_not_paused(steams_s: float) -> None:
    """Its fan alone runs for some seconds: what the sensor reads then is the baseline, and no open door."""
    rows = steaming_meal(steams_s + 40.0, steams_s=steams_s)
    fan_first = seen(rows, steams_s + 40.0, [(0.0, 0.0), (5.0, 1.0)])
    assert fan_first.moisture == seen(rows, steams_s + 40.0).moisture
    assert fan_first.growth is not None
