"""How suddenly steam came: rises of a known shape, what hides it, and what it makes of the food."""

from math import log

import numpy as np
import pytest

from service.evidence.food_moisture import food_moisture
from service.evidence.sudden_steam import SuddenSteam, sudden_steam
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from tests.cooks import FloatArray
from tests.meals import FED, MOISTURE_NUMBERS, REHEAT, PowerPairs, asked_of, codes, steaming_meal, stopped

STEAMS_S = 110.0
SECONDS = np.arange(0.0, 40.0)


def come(excess_g_m3: FloatArray, seen_s: FloatArray = SECONDS, steams_s: float = STEAMS_S) -> SuddenSteam:
    """Of a rise that is long enough to say."""
    found = sudden_steam(seen_s, excess_g_m3, steams_u_s=steams_s)
    assert found is not None
    return found


def at_once(rises_at_s: float, over_s: float = 8.0) -> FloatArray:
    """Level, 16 g/m3 more over some seconds, and level again."""
    return 16.0 * np.clip((SECONDS - rises_at_s) / over_s, 0.0, 1.0)


def lagged(signal: FloatArray, lag_s: float) -> FloatArray:
    """Through a first-order lag."""
    value, out = 0.0, []
    for target in signal.tolist():
        value += -np.expm1(-1.0 / lag_s) * (target - value)
        out.append(value)
    return np.array(out)


def seen(rows: FloatArray, until_s: float, power: PowerPairs | None = None) -> SuddenSteam | None:
    """What the sensor showed up to a moment."""
    cook = Cook.of(humidity=rows.tolist(), power=power or ()).until(round(1000.0 * until_s))
    return food_moisture(cook, HeatingClock.of(cook, round(1000.0 * until_s)), MOISTURE_NUMBERS).sudden


def meal_that_comes(grows_s: float, until_s: float = 400.0) -> FloatArray:
    return steaming_meal(until_s, steams_s=STEAMS_S, grows_s=grows_s)


def test_a_straight_line_is_even_and_as_steep_as_it_is() -> None:
    found = come(0.3 * SECONDS)
    assert found.evenness == pytest.approx(0.0, abs=0.05)
    assert found.steepness == pytest.approx(log(0.3 * STEAMS_S))


def test_a_rise_that_is_over_soon_and_one_that_comes_late_are_both_sudden() -> None:
    early, late = come(at_once(2.0)), come(at_once(26.0))
    assert early.evenness == pytest.approx(late.evenness, abs=0.05)
    assert early.evenness == pytest.approx(log(8.0 / 39.0), abs=0.2)


def test_half_the_food_at_half_the_vapour_a_second_is_as_steep() -> None:
    assert come(0.3 * SECONDS).steepness == pytest.approx(come(0.6 * SECONDS, steams_s=STEAMS_S / 2.0).steepness)


@pytest.mark.parametrize("lag_s", [5.0, 10.0, 20.0])
def test_a_slow_sensor_makes_a_rise_more_even_and_less_steep(lag_s: float) -> None:
    plain, slow = come(at_once(5.0)), come(lagged(at_once(5.0), lag_s))
    assert slow.evenness > plain.evenness
    assert slow.steepness < plain.steepness
    even = come(lagged(0.3 * SECONDS, lag_s))
    assert even.evenness > plain.evenness + 0.3


@pytest.mark.parametrize("at", [1, 12, 25, 38])
def test_a_bad_sample_changes_next_to_nothing(at: int) -> None:
    spoilt = 0.3 * SECONDS
    spoilt[at] += 20.0
    assert come(spoilt) == pytest.approx(come(0.3 * SECONDS), abs=0.1)


@pytest.mark.parametrize("every", [2, 3, 5])
def test_samples_that_come_seldom_tell_the_same(every: int) -> None:
    assert come((0.3 * SECONDS)[::every], SECONDS[::every]) == pytest.approx(come(0.3 * SECONDS), abs=0.15)


@pytest.mark.parametrize("seen_s", [SECONDS[:0], SECONDS[:1], SECONDS[:9], SECONDS[::20]])
def test_too_little_says_nothing(seen_s: FloatArray) -> None:
    assert sudden_steam(seen_s, 0.3 * seen_s, steams_u_s=STEAMS_S) is None


def test_vapour_that_does_not_rise_is_a_number_all_the_same() -> None:
    assert all(np.isfinite(come(flat)).all() for flat in (np.zeros(40), -0.2 * SECONDS))


def test_it_is_told_of_a_meal_from_its_readings() -> None:
    sudden, even = (seen(meal_that_comes(grows_s), STEAMS_S + 40.0) for grows_s in (4.0, 30.0))
    assert sudden is not None
    assert even is not None
    assert sudden.evenness < even.evenness - 0.5
    assert sudden.steepness > even.steepness + 0.5


@pytest.mark.parametrize("power", [[(0.0, 1.0), (125.0, 0.0), (128.0, 1.0)], [(0.0, 1.0), (130.0, 0.5)]])
def test_heating_that_changed_since_the_steam_came_says_nothing(power: PowerPairs) -> None:
    assert seen(meal_that_comes(4.0), STEAMS_S + 40.0, power) is None


def test_a_level_that_was_always_so_and_a_pause_before_the_steam_do_no_harm() -> None:
    plain = seen(meal_that_comes(4.0), STEAMS_S + 40.0)
    half = seen(meal_that_comes(4.0), STEAMS_S + 40.0, [(0.0, 0.5)])
    paused = seen(meal_that_comes(4.0), STEAMS_S + 40.0, [(0.0, 1.0), (30.0, 0.0), (40.0, 1.0)])
    assert plain is not None
    assert half is not None
    assert paused is not None
    assert half.steepness == pytest.approx(plain.steepness, abs=0.3)
    assert paused.evenness == pytest.approx(plain.evenness, abs=0.05)


def test_a_sensor_at_the_end_of_its_scale_says_nothing() -> None:
    rows = meal_that_comes(18.0)
    rows[:, 1] = np.minimum(rows[:, 1] * 2.0, 100.0)
    assert rows[int(STEAMS_S) + 40, 1] == 100.0
    assert seen(rows, STEAMS_S + 40.0) is None


def test_a_meal_that_comes_to_the_boil_at_once_is_a_liquid_and_done_sooner() -> None:
    liquid, solid = (Cook.of(humidity=meal_that_comes(grows_s).tolist()) for grows_s in (7.0, 30.0))
    shares = [asked_of(cook, STEAMS_S + 25.0).evidence["moisture"]["liquid_share"] for cook in (liquid, solid)]
    assert shares[0] > 0.8
    assert shares[1] < REHEAT.number("liquid_prior")
    sooner, later = stopped(liquid), stopped(solid)
    assert codes(sooner)[0] == codes(later)[0] == "core-safe"
    assert sooner.as_of_s < later.as_of_s - 10.0
    assert sooner.as_of_s > STEAMS_S + REHEAT.number("steam_lasts_s")


def test_vapour_that_is_there_within_a_second_or_two_is_no_food_and_says_little() -> None:
    puff = Cook.of(humidity=meal_that_comes(1.0).tolist())
    share = asked_of(puff, STEAMS_S + 25.0).evidence["moisture"]["liquid_share"]
    assert share == pytest.approx(REHEAT.number("liquid_prior"), abs=0.1)
    assert stopped(puff).as_of_s > stopped(Cook.of(humidity=meal_that_comes(7.0).tolist())).as_of_s + 15.0


def test_what_is_never_a_liquid_waits_longer_all_the_same() -> None:
    sudden = Cook.of(humidity=meal_that_comes(7.0).tolist())
    assert stopped(sudden, programme=FED["potato"]).as_of_s > stopped(sudden).as_of_s + 15.0
