"""What is made of the humidity: vapour with and without an air temperature, the onset of steam, sensors that are no good."""

import numpy as np
import pytest

from service.evidence.moisture import Moisture, MoistureNumbers, moisture_evidence
from service.evidence.spikes import without_spikes
from service.evidence.steam import SteamOnset, steam_onset
from service.readings.cook import Cook
from service.units import saturation_pressure_pa, vapour_density_g_m3
from tests.cooks import POPCORN, FloatArray, humidity_rows, steam_g_m3

NUMBERS = POPCORN.numbers(MoistureNumbers)
RELEASED_S = 85.0
SECONDS: FloatArray = np.arange(0.0, 131.0)


def noisy(t_s: FloatArray, noise_g_m3: float, seed: int = 0) -> FloatArray:
    return 9.0 + np.random.default_rng(seed).normal(0.0, noise_g_m3, t_s.size)


def onset(t_s: FloatArray, vapour_g_m3: FloatArray) -> SteamOnset:
    found = steam_onset(t_s, vapour_g_m3, np.zeros(t_s.size, dtype=np.bool_), NUMBERS)
    assert found is not None
    return found


def sensed(rows: FloatArray) -> Moisture:
    return moisture_evidence(Cook.of(humidity=rows), NUMBERS)


def warmed(until_s: float, rh_pct: float, steam: FloatArray | None = None) -> FloatArray:
    """Air that warms from 20 to 60 degrees in two minutes, with its vapour pressure as it was, but for steam in g/m3."""
    t_s = np.arange(0.0, until_s + 1e-9)
    air_c = np.interp(t_s, [0.0, 120.0], [20.0, 60.0])
    rh = rh_pct * saturation_pressure_pa(20.0) / saturation_pressure_pa(air_c)
    if steam is not None:
        rh = rh + 100.0 * steam / vapour_density_g_m3(100.0, air_c)
    return np.column_stack((t_s, rh, air_c))


# Vapour


def test_vapour_is_that_of_the_air_beside_the_sensor() -> None:
    """25 degrees and 50 %: 11.516 g/m3, computed with psychrolib."""
    assert sensed(np.array([[0.0, 50.0, 25.0]])).vapour_g_m3 == pytest.approx(11.516, abs=0.006)


def test_without_a_temperature_the_air_is_taken_to_be_at_the_programmes() -> None:
    said = sensed(np.array([[0.0, 50.0, NUMBERS.assumed_air_c]])).vapour_g_m3
    assert sensed(np.array([[0.0, 50.0, np.nan]])).vapour_g_m3 == said


def test_steam_shows_without_a_temperature_as_well() -> None:
    """The onset is the same within a second; only the scale of the vapour is assumed."""
    rows = humidity_rows(SECONDS, noisy(SECONDS, 0.1) + steam_g_m3(SECONDS, released_s=RELEASED_S, lag_s=3.0), 24.0)
    unsaid = rows.copy()
    unsaid[:, 2] = np.nan
    known, assumed = sensed(rows).steam, sensed(unsaid).steam
    assert known is not None
    assert known.onset_s == pytest.approx(RELEASED_S, abs=1.0)
    assert assumed is not None
    assert assumed.onset_s == pytest.approx(RELEASED_S, abs=1.0)


def test_one_reading_with_a_temperature_serves_those_without() -> None:
    rows = humidity_rows(np.arange(0.0, 30.0), np.full(30, 9.0), 24.0)
    sparse = rows.copy()
    sparse[1:, 2] = np.nan
    assert sensed(sparse).vapour_g_m3 == pytest.approx(sensed(rows).vapour_g_m3, abs=1e-9)


# Onset


@pytest.mark.parametrize("lag_s", [1.0, 2.0, 3.0, 5.0, 8.0, 12.0])
@pytest.mark.parametrize("noise_g_m3", [0.05, 0.3])
def test_the_onset_is_dated_back_through_the_lag(lag_s: float, noise_g_m3: float) -> None:
    """A step through delays of the programme's length and first-order lags: within 1 s, however slow the rise."""
    for seed in range(6):
        rise = steam_g_m3(SECONDS, released_s=RELEASED_S, lag_s=lag_s)
        found = onset(SECONDS, noisy(SECONDS, noise_g_m3, seed) + rise)
        assert found.onset_s == pytest.approx(RELEASED_S, abs=1.0)
        assert found.alarm_s is not None
        assert found.alarm_s > RELEASED_S + 2.0


@pytest.mark.parametrize("every_s", [0.2, 0.5, 1.0, 2.0, 3.0, 4.0, 5.0])
def test_the_onset_is_found_at_any_sampling_from_a_fifth_of_a_second_to_five(every_s: float) -> None:
    """Within a second, or within the time between two readings where that is longer."""
    t_s = np.arange(0.0, 131.0, every_s)
    for lag_s in (1.0, 4.0, 10.0):
        found = onset(t_s, noisy(t_s, 0.1) + steam_g_m3(t_s, released_s=RELEASED_S, lag_s=lag_s))
        assert found.onset_s == pytest.approx(RELEASED_S, abs=max(1.0, every_s))


def test_the_onset_stays_where_it_was_once_the_rise_has_shown_itself() -> None:
    vapour = noisy(SECONDS, 0.1) + steam_g_m3(SECONDS, released_s=RELEASED_S, lag_s=4.0)
    dated = [onset(SECONDS[:end], vapour[:end]).onset_s for end in (96, 100, 110, 131)]
    assert dated == pytest.approx([RELEASED_S] * 4, abs=1.0)


def test_nothing_is_dated_before_the_rise_came() -> None:
    vapour = noisy(SECONDS, 0.1) + steam_g_m3(SECONDS, released_s=RELEASED_S, lag_s=4.0)
    assert onset(SECONDS[:86], vapour[:86]).onset_s is None
    assert onset(SECONDS[:86], vapour[:86]).alarm_s is None


def test_a_baseline_is_that_of_the_quiet_beginning_whatever_comes_later() -> None:
    vapour = noisy(SECONDS, 0.1) + steam_g_m3(SECONDS, released_s=RELEASED_S, lag_s=4.0)
    found = onset(SECONDS, vapour)
    assert found.baseline_g_m3 == pytest.approx(9.0, abs=0.1)
    assert found.noise_g_m3 == pytest.approx(0.1, rel=0.5)


def test_one_wild_reading_neither_raises_the_alarm_nor_moves_the_baseline() -> None:
    vapour = noisy(SECONDS, 0.1)
    vapour[[7, 60]] = 40.0
    found = onset(SECONDS, vapour)
    assert found.onset_s is None
    assert found.baseline_g_m3 == pytest.approx(9.0, abs=0.1)


@pytest.mark.parametrize("creep_g_m3_s", [0.05, 0.1, 0.2, 0.3])
def test_seeping_is_no_onset_and_the_step_after_it_is(creep_g_m3_s: float) -> None:
    seeping = noisy(SECONDS, 0.1) + creep_g_m3_s * np.maximum(SECONDS - 40.0, 0.0)
    assert onset(SECONDS, seeping).onset_s is None
    opened = onset(SECONDS, seeping + steam_g_m3(SECONDS, released_s=RELEASED_S, lag_s=3.0))
    assert opened.onset_s == pytest.approx(RELEASED_S, abs=1.5)
    assert opened.creeps


def test_a_quiet_baseline_before_the_step_is_no_creep() -> None:
    assert not onset(SECONDS, noisy(SECONDS, 0.1) + steam_g_m3(SECONDS, released_s=RELEASED_S, lag_s=3.0)).creeps


@pytest.mark.parametrize("noise_g_m3", [0.1, 0.6, 2.0, 4.0])
def test_false_alarms_are_no_oftener_than_the_programme_says(noise_g_m3: float) -> None:
    """Two hundred seeded runs of ten quiet minutes: an alarm in at most the share that one in false_alarm_s would give."""
    t_s = np.arange(0.0, 600.0)
    alarms = sum(onset(t_s, 30.0 + noisy(t_s, noise_g_m3, seed)).onset_s is not None for seed in range(200))
    claimed = -np.expm1(-600.0 / NUMBERS.false_alarm_s)
    assert alarms / 200 <= claimed


@pytest.mark.parametrize("rh_pct", [25.0, 50.0, 80.0])
def test_warming_air_at_constant_vapour_is_no_steam(rh_pct: float) -> None:
    """From 20 to 60 degrees in 120 s the relative humidity falls to about an eighth, and nothing has happened."""
    rows = warmed(150.0, rh_pct)
    assert rows[-1, 1] < rh_pct / 8.0
    found = sensed(rows)
    assert found.status == "usable"
    assert found.steam is not None
    assert found.steam.onset_s is None
    # An eighth less for the warmer, thinner air, and the resolution of the sensor.
    assert found.vapour_g_m3 == pytest.approx(found.steam.baseline_g_m3 * 293.15 / 333.15, rel=0.05)


def test_steam_is_found_while_the_relative_humidity_only_falls() -> None:
    """The air warms so fast that the steam of a bag, let out slowly, never raises the relative humidity."""
    t_s = np.arange(0.0, 131.0)
    air_c = 20.0 + 40.0 / (1.0 + np.exp(-(t_s - 80.0) / 6.0))
    vapour = 9.0 + steam_g_m3(t_s, released_s=70.0, lag_s=12.0, rise_g_m3=15.0)
    rows = humidity_rows(t_s, vapour, air_c)
    assert rows[:, 1].max() < rows[0, 1] + 1.5
    found = sensed(rows).steam
    assert found is not None
    assert found.onset_s == pytest.approx(70.0, abs=2.0)


def test_a_rise_into_saturation_is_dated_by_what_came_before_it() -> None:
    """Steam of 40 g/m3 in air that holds 30: the sensor is pegged within seconds."""
    rise = steam_g_m3(SECONDS, released_s=RELEASED_S, lag_s=4.0, rise_g_m3=40.0)
    found = sensed(humidity_rows(SECONDS, noisy(SECONDS, 0.1) + rise, 30.0))
    assert found.saturated
    assert found.status == "usable"
    assert found.steam is not None
    assert found.steam.onset_s == pytest.approx(RELEASED_S, abs=1.0)


# Sensors that are no good


def constant(rh_pct: float, until_s: float, air_c: float = 23.0) -> FloatArray:
    t_s = np.arange(0.0, until_s + 1e-9)
    return np.column_stack((t_s, np.full(t_s.size, rh_pct), np.full(t_s.size, air_c)))


def test_no_reading_is_no_sensor() -> None:
    found = moisture_evidence(Cook.of(pops_s=[50.0]), NUMBERS)
    assert found.status == "absent"
    assert found.vapour_g_m3 is None
    assert found.steam is None


@pytest.mark.parametrize(
    ("until_s", "status"), [(10.0, "usable"), (59.0, "usable"), (60.0, "suspect"), (120.0, "suspect")]
)
def test_a_sensor_that_does_not_move_for_a_minute_is_suspect(until_s: float, status: str) -> None:
    assert sensed(constant(41.0, until_s)).status == status


def test_a_sensor_that_moved_by_the_least_step_is_not_stuck() -> None:
    rows = constant(41.0, 120.0)
    rows[30, 1] = 41.1
    assert sensed(rows).status == "usable"


def test_a_sensor_that_is_saturated_from_the_beginning_is_suspect() -> None:
    rows = constant(100.0, 50.0)
    rows[:, 2] += np.linspace(0.0, 5.0, rows.shape[0])
    found = sensed(rows)
    assert found.status == "suspect"
    assert found.saturated
    assert found.steam is None


def test_a_sensor_that_saturates_when_steam_comes_is_not_suspect() -> None:
    rows = constant(50.0, 120.0)
    rows[90:, 1] = 100.0
    assert sensed(rows).status == "usable"


def test_few_readings_are_waited_for() -> None:
    assert sensed(constant(41.0, 2.0)).status == "waiting"


def test_readings_that_begin_late_find_a_baseline_all_the_same() -> None:
    """The link came up at 30 s, long before any steam: those seconds are as quiet as the first ones."""
    late = SECONDS[30:]
    rows = humidity_rows(late, noisy(late, 0.1) + steam_g_m3(late, released_s=RELEASED_S, lag_s=3.0))
    found = sensed(rows).steam
    assert found is not None
    assert found.onset_s == pytest.approx(RELEASED_S, abs=1.0)


# Puffs


@pytest.mark.parametrize("lasts_s", [1.0, 3.0, 5.0])
@pytest.mark.parametrize("height_g_m3", [3.0, 25.0])
def test_a_puff_that_is_gone_within_seconds_is_no_steam(height_g_m3: float, lasts_s: float) -> None:
    vapour = noisy(SECONDS, 0.1) + height_g_m3 * ((SECONDS >= 40.0) & (40.0 + lasts_s > SECONDS))
    assert onset(SECONDS[:60], vapour[:60]).onset_s is None
    with_steam = vapour + steam_g_m3(SECONDS, released_s=RELEASED_S, lag_s=3.0)
    without_puff = noisy(SECONDS, 0.1) + steam_g_m3(SECONDS, released_s=RELEASED_S, lag_s=3.0)
    assert onset(SECONDS, with_steam).onset_s == pytest.approx(onset(SECONDS, without_puff).onset_s, abs=0.5)


def test_steam_that_a_door_lets_out_later_has_still_begun() -> None:
    """Half a minute of steam, then the door: that the vapour falls afterwards takes nothing back."""
    vapour = noisy(SECONDS, 0.1) + steam_g_m3(SECONDS, released_s=RELEASED_S, lag_s=3.0) * (SECONDS < RELEASED_S + 30.0)
    assert onset(SECONDS, vapour).onset_s == pytest.approx(RELEASED_S, abs=3.0)


# Single wild readings


@pytest.mark.parametrize("wild_pct", [0.0, 100.0])
@pytest.mark.parametrize("share", [0.02, 0.05])
def test_single_wild_readings_are_no_steam_and_hide_none(wild_pct: float, share: float) -> None:
    """Ten seeded cooks: no onset before the steam, and the onset within two and a half seconds of where it was."""
    for seed in range(10):
        rows = humidity_rows(SECONDS, noisy(SECONDS, 0.1, seed) + steam_g_m3(SECONDS, released_s=RELEASED_S, lag_s=3.0))
        wild = np.flatnonzero(np.random.default_rng(seed).random(SECONDS.size) < share)
        single = wild[np.diff(wild, prepend=-9) > 2]
        rows[single, 1] = wild_pct
        for until in (50, 70, 84):
            before = sensed(rows[:until]).steam
            assert before is not None
            assert before.onset_s is None
        after = sensed(rows).steam
        assert after is not None
        assert after.onset_s == pytest.approx(RELEASED_S, abs=2.5)


def test_a_rise_that_stays_is_no_wild_reading() -> None:
    vapour = np.array([9.0, 9.1, 20.0, 21.0, 20.5, 9.0, 9.1, 1.0, 9.0, 30.0])
    without = [9.0, 9.1, 20.0, 21.0, 20.5, 9.0, 9.1, 9.0, 9.0, 30.0]
    assert without_spikes(np.arange(10.0), vapour, 2.5).tolist() == without


def test_two_wild_readings_of_five_are_left_out() -> None:
    vapour = np.array([9.0, 9.1, 40.0, 9.3, 0.0, 9.5, 9.6, 40.0, 40.0, 9.9, 10.0, 10.1])
    assert np.abs(without_spikes(np.arange(12.0), vapour, 2.5) - np.linspace(9.0, 10.1, 12)).max() < 0.5


def test_between_slow_readings_steam_may_come_and_go() -> None:
    vapour = np.array([9.0, 9.1, 30.0, 12.0, 9.2])
    assert without_spikes(10.0 * np.arange(5), vapour, 2.5).tolist() == vapour.tolist()


def test_air_that_warms_at_a_saturated_sensor_is_not_when_steam_began() -> None:
    """At the end of its scale the sensor shows what air of that temperature could hold, and no longer what it holds."""
    t_s = np.arange(0.0, 90.0)
    rh_pct = np.clip(45.0 + 9.0 * (t_s - 60.0), 45.0, 100.0) + np.where(t_s < 60.0, 0.1 * (t_s % 3.0), 0.0)
    air_c = np.clip(30.0 + 10.0 * (t_s - 70.0), 30.0, 70.0)
    found = moisture_evidence(Cook.of(humidity=np.column_stack((t_s, rh_pct, air_c))), NUMBERS).steam
    assert found is not None
    assert found.onset_s == pytest.approx(60.0 - NUMBERS.sensor_delay_s, abs=2.0)
