"""What the setup and a sensor that failed make of a programme's limits."""

from collections.abc import Callable
from typing import Any

import pytest

from service.evidence.moisture import NOTHING, Moisture
from service.programs.programme import shipped
from service.readings.cook import EMPTY
from service.readings.heating import HeatingClock
from service.readings.setup import Setup
from service.rules.food_limits import food_limits_of
from service.rules.limits import Limits, limits_of

POPCORN, REHEAT = shipped()["popcorn"], shipped()["reheat"]
CLOCK = HeatingClock.of(EMPTY, 200_000)


def of_a_bag(lived_until_s: float | None = None, **said: Any) -> Limits:
    """Limits of popcorn whose humidity sensor has shown no steam until it failed; None where it has not failed."""
    failed = Moisture(status="suspect", vapour_g_m3=9.0, saturated=False, steam=None, lived_until_s=lived_until_s)
    return limits_of(POPCORN, Setup(**said), NOTHING if lived_until_s is None else failed, CLOCK)


def of_food(**said: Any) -> Limits:
    return food_limits_of(REHEAT, Setup(**said))


@pytest.mark.parametrize("limits", [of_a_bag, of_food], ids=["bag", "food"])
def test_nothing_is_waited_for_beyond_the_cap(limits: Callable[..., Limits]) -> None:
    low = limits(max_heating_s=20.0)
    assert (low.cap_s, low.blind_s, low.waiting_s) == (20.0, 20.0, 20.0)
    assert low.strays_s <= 20.0


@pytest.mark.parametrize("limits", [of_a_bag, of_food], ids=["bag", "food"])
def test_a_setup_lowers_the_cap_and_never_raises_it(limits: Callable[..., Limits]) -> None:
    assert limits(max_heating_s=7200.0) == limits()


def test_with_a_failed_sensor_nothing_is_waited_for_beyond_the_cap_either() -> None:
    low = of_a_bag(50.0, max_heating_s=30.0)
    assert (low.blind_s, low.waiting_s) == (30.0, 30.0)


def test_a_microphone_that_the_appliance_is_said_to_have_is_listened_to_for_longer() -> None:
    assert of_a_bag(sensors=("acoustic",)).blind_s == of_a_bag(sensors=("acoustic", "moisture")).blind_s
    assert of_a_bag(sensors=("acoustic",)).blind_s > of_a_bag(sensors=("moisture",)).blind_s == of_a_bag().blind_s


def test_a_failed_humidity_sensor_leaves_a_microphone_more_time_and_never_less() -> None:
    assert of_a_bag(0.0).blind_s > of_a_bag().blind_s
    assert of_a_bag(0.0, sensors=("acoustic",)).blind_s >= of_a_bag(sensors=("acoustic",)).blind_s


def test_the_later_a_sensor_that_failed_has_seen_the_bag_shut_the_longer_it_is_waited_for() -> None:
    blind_s = [of_a_bag(lived_s).blind_s for lived_s in (0.0, 20.0, 60.0, 90.0, 120.0)]
    assert blind_s == sorted(blind_s)
    assert blind_s[0] < blind_s[-1] < of_a_bag().cap_s


def test_load_and_rating_together_narrow_when_a_shut_bag_opens() -> None:
    """Long after its time a bag of known size in a known oven is not waited for as long as one of which nothing is known."""
    typical = {name: POPCORN.number(f"typical_{name}") for name in ("load_g", "rated_w")}
    by_known = [of_a_bag(60.0, **said).blind_s for said in (typical, {"load_g": typical["load_g"]}, {})]
    assert by_known[0] < by_known[1] == by_known[2]


def test_a_lone_microphone_is_waited_for_less_than_two_sensors_but_never_longer() -> None:
    assert of_a_bag(0.0).waiting_s < of_a_bag().waiting_s
    large_in_weak = {"load_g": 400.0, "rated_w": 400.0}
    assert of_a_bag(150.0, **large_in_weak).waiting_s == of_a_bag(**large_in_weak).waiting_s


def test_a_bag_that_is_said_to_take_long_is_waited_for_until_it_could_have_popped() -> None:
    """An oven of a third of the typical rating: its bag pops when three times as much heating has passed, by what is said."""
    weak_w = POPCORN.number("typical_rated_w") / 3.0
    assert of_a_bag(rated_w=weak_w).waiting_s > 3.0 * POPCORN.number("typical_location_s")
    assert of_a_bag(rated_w=800.0).waiting_s == of_a_bag().waiting_s == POPCORN.number("waiting_heating_s")
    assert of_a_bag(rated_w=50.0).waiting_s == POPCORN.number("max_heating_s")


def test_what_counts_as_strays_does_not_hang_on_the_humidity_sensor() -> None:
    assert of_a_bag(100.0).strays_s == of_a_bag(0.0).strays_s == of_a_bag().strays_s == of_a_bag().blind_s


@pytest.mark.parametrize("limits", [of_a_bag, of_food], ids=["bag", "food"])
def test_heavier_loads_are_waited_for_longer_and_stronger_ovens_less_long(limits: Callable[..., Limits]) -> None:
    assert limits(load_g=60.0).blind_s < limits(load_g=120.0).blind_s
    assert limits(rated_w=1200.0).blind_s < limits(rated_w=700.0).blind_s


def test_food_of_which_all_is_known_is_given_up_sooner_than_any() -> None:
    known = of_food(load_g=200.0, rated_w=1000.0)
    assert known.blind_s < known.waiting_s < of_food().waiting_s
    assert of_food(load_g=200.0).waiting_s == of_food(rated_w=1000.0).waiting_s == of_food().waiting_s


def test_a_large_load_in_a_weak_oven_is_waited_for_no_longer_than_any() -> None:
    assert of_food(load_g=2000.0, rated_w=500.0).waiting_s == of_food().waiting_s


def test_high_up_food_boils_sooner() -> None:
    assert of_food(site_altitude_m=3000.0).blind_s < of_food().blind_s == of_food(site_altitude_m=0.0).blind_s
