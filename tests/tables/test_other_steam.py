"""Steam that is not the cook's own, as of a pan, a kettle, an opened door or wet walls; and readings that come otherwise."""

from statistics import NormalDist

import numpy as np
import pytest

from service.evidence.moisture import MoistureNumbers, moisture_evidence
from service.evidence.steam import SteamOnset
from service.forecast.bag_prior import bag_prior
from service.forecast.bag_steam import bag_steam_numbers, own_odds
from service.forecast.food_steam import food_odds, food_steam_numbers, log_time_to_steam, settles_in_u_s
from service.forecast.meal_posterior import Steamed
from service.forecast.popcorn_model import popcorn_model
from service.readings.cook import EMPTY, Cook
from service.readings.heating import HeatingClock
from service.rules.decision import Setup
from tests.cooks import (
    POPCORN,
    FloatArray,
    ask,
    drawn_pops_s,
    first_stop,
    humidity_rows,
    steam_g_m3,
    steaming_rows,
    told,
)
from tests.meals import REHEAT, asked_of, stopped

BAG = bag_prior(POPCORN, popcorn_model(POPCORN).grid, None, None)
SECONDS: FloatArray = np.arange(0.0, 480.0)
UNHEARD = Setup(sensors=("moisture",))


def seen(onset_s: float, rise_g_m3: float, *, has_fallen: bool = False) -> SteamOnset:
    return SteamOnset(
        baseline_g_m3=9.0,
        noise_g_m3=0.1,
        alarm_s=onset_s + 5.0,
        onset_s=onset_s,
        slope_g_m3_s=1.0,
        creeps=False,
        rise_g_m3=rise_g_m3,
        has_fallen=has_fallen,
    )


def odds(steam: SteamOnset, now_s: float, *, listens: bool = True) -> float:
    clock = HeatingClock.of(EMPTY, round(1000.0 * now_s))
    return own_odds(bag_steam_numbers(POPCORN), BAG, clock, steam, listens=listens)


def kitchen_rows(came_s: float, rise_g_m3: float, gone_s: float = 600.0, opened_s: float | None = None) -> FloatArray:
    """A reading a second of 9 g/m3; more comes into the kitchen within seconds, and a bag may open later."""
    vapour = 9.0 + np.random.default_rng(3).normal(0.0, 0.05, SECONDS.size)
    vapour += steam_g_m3(SECONDS, released_s=came_s, lag_s=4.0, rise_g_m3=rise_g_m3)
    vapour -= steam_g_m3(SECONDS, released_s=gone_s, lag_s=4.0, rise_g_m3=rise_g_m3)
    if opened_s is not None:
        vapour += steam_g_m3(SECONDS, released_s=opened_s, lag_s=3.0)
    return humidity_rows(SECONDS, vapour)


# A bag that nobody hears


def test_no_steam_is_nobodys() -> None:
    none = seen(90.0, 14.0)._replace(onset_s=None, alarm_s=None, slope_g_m3_s=None, rise_g_m3=None)
    assert odds(none, 100.0) == 0.0


def test_little_steam_much_too_early_is_anothers_and_much_of_it_in_time_the_bags() -> None:
    assert odds(seen(40.0, 3.0), 52.0) < 1.0
    assert odds(seen(105.0, 3.0), 140.0) > 1.0
    assert odds(seen(60.0, 16.0), 78.0) > 1.0


@pytest.mark.parametrize("listens", [True, False])
def test_the_odds_rise_with_the_steam_and_never_fall_as_the_cook_goes_on(listens: bool) -> None:
    by_rise = [odds(seen(60.0, rise_g_m3), 80.0, listens=listens) for rise_g_m3 in (2.0, 4.0, 8.0, 14.0, 30.0, np.inf)]
    by_time = [odds(seen(60.0, 4.0), now_s, listens=listens) for now_s in np.arange(60.0, 7000.0, 60.0).tolist()]
    assert by_rise == sorted(by_rise)
    assert by_time == sorted(by_time)
    assert np.isfinite(by_time).all()


def test_steam_that_is_gone_again_is_less_probably_a_bags() -> None:
    assert odds(seen(70.0, 6.0, has_fallen=True), 95.0) < odds(seen(70.0, 6.0), 95.0) / 2.0


def test_steam_is_more_probably_the_bags_where_there_is_no_microphone_than_where_one_may_be_listening() -> None:
    assert odds(seen(60.0, 5.0), 70.0, listens=False) > odds(seen(60.0, 5.0), 70.0)


@pytest.mark.parametrize("came_s", [20.0, 35.0, 50.0])
def test_steam_in_the_kitchen_ends_no_bag_that_has_not_popped_yet(came_s: float) -> None:
    """Half a minute from it on, where a bag of that onset would be done, nothing is foretold; and the sound ends the cook."""
    rows = kitchen_rows(came_s, 4.0)
    quiet = ask(Cook.of(humidity=rows), came_s + 30.0)
    assert quiet.decision == "continue"
    assert quiet.remaining is None
    assert told(quiet, "moisture")["onset_s"] == pytest.approx(came_s, abs=2.0)
    heard = first_stop(Cook.of(humidity=rows, pops_s=drawn_pops_s(420, 100.0, 14.0, seed=5)))
    assert 124.0 <= heard.as_of_s <= 142.0


@pytest.mark.parametrize("gone_s", [50.0, 600.0])
def test_a_bag_that_opens_after_other_steam_is_dated_by_its_own(gone_s: float) -> None:
    answer = ask(Cook.of(humidity=kitchen_rows(30.0, 4.0, gone_s, opened_s=97.0)), 115.0, UNHEARD)
    assert told(answer, "moisture")["onset_s"] == pytest.approx(97.0, abs=2.0)
    assert answer.remaining is not None


def test_steam_that_was_doubted_ends_a_cook_once_a_bag_would_have_popped() -> None:
    stop = first_stop(Cook.of(humidity=kitchen_rows(40.0, 4.0)))
    assert stop.reasons[0].rule == "steam-clock-reached"
    assert 75.0 <= stop.as_of_s <= 160.0


# Food


def food_seen(onset_s: float, growth: float | None) -> Steamed:
    return Steamed(onset_u_s=onset_s, level=1.0, sudden=None, growth=growth, rated_w=None, load_g=None)


def of_food(
    onset_s: float, growth: float | None, now_s: float, *, tells: bool = True, steams: NormalDist | None = None
) -> float:
    known = log_time_to_steam(REHEAT, None, None, 0.0) if steams is None else steams
    return food_odds(food_steam_numbers(REHEAT), known, food_seen(onset_s, growth), now_s, growth_tells=tells)


def test_steam_that_stays_as_it_came_is_anothers_where_it_came_early() -> None:
    assert of_food(45.0, 0.1, 80.0) < 1.0
    assert of_food(45.0, 0.1, 80.0, tells=False) > 1.0
    assert of_food(115.0, 0.75, 150.0) > 1.0


def test_no_growth_speaks_for_food_more_than_an_unknown_one() -> None:
    unknown = of_food(80.0, None, 120.0)
    assert all(of_food(80.0, growth, 120.0) <= unknown for growth in np.linspace(-1.0, 2.5, 36).tolist())


def test_the_more_steam_grows_the_more_probably_it_is_foods() -> None:
    by_growth = [of_food(80.0, growth, 120.0) for growth in np.linspace(-1.0, 3.0, 41).tolist()]
    assert by_growth == sorted(by_growth)


def test_steam_long_before_that_load_could_steam_in_that_oven_is_anothers() -> None:
    large = log_time_to_steam(REHEAT, 700.0, 700.0, 0.0)
    assert of_food(45.0, 0.75, 80.0, steams=large) < 1.0 < of_food(45.0, 0.75, 80.0)


def test_the_odds_of_food_never_fall_as_the_cook_goes_on() -> None:
    by_time = [of_food(60.0, 0.2, now_s) for now_s in np.arange(60.0, 7000.0, 60.0).tolist()]
    assert by_time == sorted(by_time)
    assert np.isfinite(by_time).all()


def test_steam_settles_when_its_growth_has_shown_or_its_odds_are_beyond_doubt() -> None:
    numbers = food_steam_numbers(REHEAT)
    assert settles_in_u_s(numbers, food_seen(60.0, None), 66.0, 5.0) == pytest.approx(numbers.growth_awaited_s - 6.0)
    assert settles_in_u_s(numbers, food_seen(60.0, 0.7), 66.0, 5.0) == 0.0
    assert settles_in_u_s(numbers, food_seen(60.0, None), 66.0, 1.0 / numbers.ungrown_odds) == 0.0
    assert settles_in_u_s(numbers, food_seen(60.0, None), 400.0, 5.0) == 0.0


def food_in_kitchen(came_s: float, steams_s: float) -> Cook:
    vapour = 9.0 + np.random.default_rng(5).normal(0.0, 0.05, SECONDS.size)
    vapour += steam_g_m3(SECONDS, released_s=came_s, lag_s=3.0, rise_g_m3=4.0)
    since_s = np.maximum(SECONDS - steams_s - 3.0, 0.0)
    vapour += 15.0 * -np.expm1(-((since_s / 18.0) ** 1.6))
    return Cook.of(humidity=humidity_rows(SECONDS, vapour, 35.0))


@pytest.mark.parametrize("came_s", [25.0, 40.0])
def test_food_is_not_taken_for_done_by_steam_that_blew_in(came_s: float) -> None:
    """Steam of its own comes at 120 s; by what blew in at first the cook would have ended before that."""
    stop = stopped(food_in_kitchen(came_s, steams_s=120.0))
    assert stop.reasons[0].rule == "core-safe"
    assert stop.as_of_s > 135.0
    assert told(stop, "moisture")["onset_s"] == pytest.approx(120.0, abs=8.0)


def test_what_blew_in_foretells_nothing_once_it_has_shown_that_it_stays() -> None:
    answer = asked_of(food_in_kitchen(40.0, steams_s=400.0), 85.0)
    assert answer.decision == "continue"
    assert answer.remaining is None


def test_humidity_that_stands_still_in_warming_air_is_a_stuck_sensors() -> None:
    """Its vapour density would rise with the air; a live sensor's relative humidity falls as the air warms."""
    air_c = np.interp(SECONDS, [0.0, 200.0], [25.0, 50.0])
    cook = Cook.of(humidity=np.column_stack((SECONDS, np.full(SECONDS.size, 41.0), air_c)))
    assert told(asked_of(cook, 70.0), "moisture")["status"] == "suspect"


def test_the_same_bag_is_stopped_alike_however_it_is_read() -> None:
    """Every second; every ten; with a gap of 18 s over the opening."""
    rows = steaming_rows(300.0, released_s=97.0, lag_s=6.0)
    whole = first_stop(Cook.of(humidity=rows), UNHEARD).as_of_s
    seldom = first_stop(Cook.of(humidity=rows[::10]), UNHEARD).as_of_s
    missing = first_stop(Cook.of(humidity=rows[(rows[:, 0] < 88.0) | (rows[:, 0] > 106.0)]), UNHEARD).as_of_s
    assert seldom == pytest.approx(whole, abs=10.0)
    assert missing == pytest.approx(whole, abs=8.0)


def test_a_wild_fall_and_rise_dates_no_steam_to_after_it_was_seen() -> None:
    """Three wild readings in a row are beyond what is left out: their return is steep, and lies below where it was before."""
    rows = steaming_rows(130.0, released_s=97.0)
    for first in range(80, 128):
        wild = rows.copy()
        wild[first : first + 3, 1] = 0.0
        for until in range(first + 3, 131):
            found = moisture_evidence(Cook.of(humidity=wild[:until]), POPCORN.numbers(MoistureNumbers)).steam
            assert found is None or found.onset_s is None or found.onset_s <= until - 1


def test_a_sensor_that_stands_still_once_it_has_risen_has_seen_steam() -> None:
    """As one whose scale ends at 62 %: what it shows at that end is no less steam than what rises on."""
    rows = steaming_rows(300.0, released_s=97.0)
    rows[:, 1] = np.minimum(rows[:, 1], 62.0)
    answer = ask(Cook.of(humidity=rows), 118.0, UNHEARD)
    assert told(answer, "moisture")["status"] == "usable"
    assert told(answer, "moisture")["onset_s"] == pytest.approx(97.0, abs=2.5)
