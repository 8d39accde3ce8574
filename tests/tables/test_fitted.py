"""What a programme becomes for one oven: its own numbers in their places, within limits, and nothing for no profile."""

from dataclasses import fields
from math import exp

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.forecast.fitted import fitted, typical_steam_clock
from service.programs.programme import Programme, shipped
from service.readings.cook import EMPTY, Cook
from service.readings.setup import Fitted, OvenProfile, Setup
from service.rules.decide import decide
from tests.cooks import POPCORN, ask, drawn_pops_s, humidity_rows, steaming_rows, told
from tests.meals import REHEAT, asked_of

LIMITS = (
    "max_heating_s",
    "blind_heating_s",
    "half_blind_heating_s",
    "listening_heating_s",
    "top_up_heating_s",
    "gap_s",
)
STEAM_AT_S = 100.0
STEAMING = Cook.of(humidity=steaming_rows(125.0, released_s=STEAM_AT_S))


def numbers_of(**said: float) -> dict[str, float]:
    """The numbers that a profile of bare numbers changes."""
    one = fitted(POPCORN, OvenProfile(**{name: Fitted(value=value) for name, value in said.items()}))
    return {key: one.number(key) for key in POPCORN.values if one.number(key) != POPCORN.number(key)}


def test_a_profile_that_says_nothing_changes_nothing() -> None:
    assert fitted(POPCORN, OvenProfile()) is POPCORN
    assert numbers_of(sensor_lag_s=12.0) == {}


def test_the_same_profile_gives_the_same_programme_so_that_its_tables_are_kept() -> None:
    one, other = (OvenProfile(sensor_delay_s=Fitted(value=5.0, low=4.0, high=6.0, cooks=9)) for _ in range(2))
    assert fitted(POPCORN, one) is fitted(POPCORN, other)


def test_the_origin_of_a_number_is_told() -> None:
    oven = OvenProfile(sensor_delay_s=Fitted(value=5.0, cooks=9), dead_time_s=Fitted(value=0.06))
    values = fitted(POPCORN, oven).values
    assert values["sensor_delay_s"].source == "fitted to this oven from 9 cooks"
    assert values["dead_time_s"].source == "said of this oven"
    assert values["sensor_delay_s"].unit == "s"
    assert values["gap_s"] is POPCORN.values["gap_s"]


@pytest.mark.parametrize(
    ("said", "changed"),
    [
        ({"sensor_delay_s": 6.0}, {"sensor_delay_s": 6.0}),
        ({"dead_time_s": 0.06}, {"dead_time_s": 0.06}),
        ({"dead_time_s": 0.1}, {"dead_time_s": 0.1, "dead_time_most_s": 0.1}),
        ({"dead_time_s": 1.0}, {"dead_time_s": 0.15, "dead_time_most_s": 0.15}),
        ({"power_share": 1.25}, {"typical_location_s": 94.4, "known_location_log_sd": 0.14}),
        (
            {"power_share": 0.8},
            {"typical_location_s": 147.5, "known_location_log_sd": 0.14, "waiting_heating_s": 412.5},
        ),
        (
            {"power_share": 0.05},
            {"typical_location_s": 295.0, "known_location_log_sd": 0.14, "waiting_heating_s": 420.0},
        ),
    ],
)
def test_a_value_goes_where_it_belongs_as_far_as_it_is_believed(
    said: dict[str, float], changed: dict[str, float]
) -> None:
    assert numbers_of(**said) == pytest.approx(changed)


@pytest.mark.parametrize("ratio", [1.15, 1.25, 1.35, 1.45])
@pytest.mark.parametrize("spread", [0.05, 0.07, 0.09])
def test_the_typical_bag_of_a_fitted_programme_has_the_ratio_and_spread_of_the_profile(
    ratio: float, spread: float
) -> None:
    oven = OvenProfile(steam_ratio=Fitted(value=ratio), steam_ratio_spread=Fitted(value=spread))
    log_onset, stop = typical_steam_clock(fitted(POPCORN, oven))
    assert exp(stop.log_mean - log_onset) == pytest.approx(ratio, rel=0.01)
    assert stop.log_sd == pytest.approx(spread, abs=0.02)


def test_a_ratio_out_of_reason_is_believed_in_part() -> None:
    log_onset, stop = typical_steam_clock(POPCORN)
    own = stop.log_mean - log_onset
    for ratio, most in ((10.0, 1.25), (1.0, 1.0 / 1.25)):
        log_onset, stop = typical_steam_clock(fitted(POPCORN, OvenProfile(steam_ratio=Fitted(value=ratio))))
        assert exp(stop.log_mean - log_onset - own) == pytest.approx(most, rel=0.03)


@pytest.mark.parametrize(("clutter_per_s", "share"), [(0.0, 0.002), (0.012, 0.011), (0.2, 0.16), (10.0, 0.25)])
def test_clutter_becomes_a_share_of_false_pops(clutter_per_s: float, share: float) -> None:
    """0.012 a second are 4.2 sounds in three locations of 118 s, beside 374 pops that are heard."""
    one = fitted(POPCORN, OvenProfile(clutter_per_s=Fitted(value=clutter_per_s)))
    low, high = one.number("clutter_low_share"), one.number("clutter_high_share")
    assert low < share < high == pytest.approx(min(4.0 * low, 0.6))
    assert low * 2.0**0.5 == pytest.approx(share, rel=0.2)


def stop_by_steam_s(oven: OvenProfile | None) -> float:
    decision = ask(STEAMING, 125.0, Setup(sensors=("moisture",), oven=oven))
    stopped_s = decision.evidence["moisture"]["stop_s"]
    assert isinstance(stopped_s, float)
    return stopped_s


def test_a_longer_ratio_and_a_shorter_delay_stop_later() -> None:
    usual_s = stop_by_steam_s(None)
    assert stop_by_steam_s(OvenProfile(steam_ratio=Fitted(value=1.45))) > usual_s + 3.0
    assert stop_by_steam_s(OvenProfile(sensor_delay_s=Fitted(value=8.0))) < usual_s - 3.0


def test_a_weak_oven_that_is_known_is_waited_for_and_an_unknown_one_is_not() -> None:
    waiting = Cook.of(humidity=steaming_rows(430.0, released_s=999.0))
    weak = Setup(oven=OvenProfile(power_share=Fitted(value=0.6)))
    assert ask(waiting, 350.0).reasons[0].rule == "nothing-happened"
    assert ask(waiting, 350.0, weak).decision == "continue"
    assert ask(waiting, 425.0, weak).reasons[0].rule == "nothing-happened"


def test_of_a_programme_without_a_microphone_only_the_delay_changes() -> None:
    deaf = next(one for one in shipped().values() if "acoustic" not in one.led_by)
    oven = OvenProfile(**{field.name: Fitted(value=0.5) for field in fields(OvenProfile)})
    one = fitted(deaf, oven)
    assert {key for key in deaf.values if one.number(key) != deaf.number(key)} == {"sensor_delay_s"}


@pytest.mark.parametrize(
    ("said", "delay_s"),
    [
        ({}, 3.0),
        ({"sensor_delay_s": 6.0}, 6.0),
        ({"sensor_lag_s": 4.0}, 3.0),
        ({"sensor_lag_s": 9.0}, 5.0),
        ({"sensor_lag_s": 1.5}, 3.0),
        ({"sensor_lag_s": 120.0}, 9.4),
        ({"sensor_delay_s": 6.0, "sensor_lag_s": 9.0}, 8.0),
        ({"sensor_delay_s": 0.5, "sensor_lag_s": 0.0}, 0.5),
    ],
)
def test_over_food_a_share_of_the_lag_beyond_a_usual_one_is_delay(said: dict[str, float], delay_s: float) -> None:
    one = fitted(REHEAT, OvenProfile(**{name: Fitted(value=value) for name, value in said.items()}))
    assert one.number("sensor_delay_s") == pytest.approx(delay_s)


@pytest.mark.parametrize("lag_s", [8.0, 11.0, 14.0])
def test_food_behind_a_sensor_that_is_known_to_be_slow_is_dated_nearer_to_when_it_steamed(lag_s: float) -> None:
    """Vapour that grows as a ramp of 0.2 g/m3/s from 100 s on: through a delay of 3 s and the lag, in closed form."""
    t_s = np.arange(0.0, 150.0)
    since_s = np.maximum(t_s - 100.0 - 3.0, 0.0)
    noise = np.random.default_rng(0).normal(0.0, 0.05, t_s.size)
    seen = 9.0 + noise + 0.2 * (since_s + lag_s * np.expm1(-since_s / lag_s))
    slow = Cook.of(humidity=humidity_rows(t_s, seen))
    unknown, known = (
        told(asked_of(slow, 149.0, Setup(oven=oven)), "moisture")["onset_s"]
        for oven in (None, OvenProfile(sensor_lag_s=Fitted(value=lag_s)))
    )
    assert unknown - known == pytest.approx(0.4 * (lag_s - 4.0))
    assert abs(known - 100.0) < abs(unknown - 100.0)


@pytest.mark.parametrize("programme", [POPCORN, REHEAT])
def test_no_longer_way_of_the_steam_is_believed_than_the_programme_allows(programme: Programme) -> None:
    far, farther = (fitted(programme, OvenProfile(sensor_delay_s=Fitted(value=value))) for value in (15.0, 120.0))
    assert far.number("sensor_delay_s") == farther.number("sensor_delay_s") == 15.0


profiles = st.builds(
    OvenProfile,
    steam_ratio=st.none() | st.builds(Fitted, value=st.floats(1.0, 10.0)),
    steam_ratio_spread=st.none() | st.builds(Fitted, value=st.floats(0.001, 2.0)),
    sensor_delay_s=st.none() | st.builds(Fitted, value=st.floats(0.0, 120.0)),
    dead_time_s=st.none() | st.builds(Fitted, value=st.floats(0.0, 1.0)),
    clutter_per_s=st.none() | st.builds(Fitted, value=st.floats(0.0, 10.0)),
    power_share=st.none() | st.builds(Fitted, value=st.floats(0.05, 1.5)),
    duty_cycle=st.none() | st.builds(Fitted, value=st.floats(0.05, 1.0)),
)
POPPING = Cook.of(pops_s=drawn_pops_s(400, 120.0, 15.0), humidity=steaming_rows(160.0, released_s=112.0))


@given(profiles)
def test_no_profile_moves_a_limit_that_protects(oven: OvenProfile) -> None:
    one = fitted(POPCORN, oven)
    assert [one.number(key) for key in LIMITS] == [POPCORN.number(key) for key in LIMITS]
    assert one.number("waiting_heating_s") <= POPCORN.number("oven_waiting_most_s") < one.number("max_heating_s")


@settings(max_examples=40)
@given(profiles, st.sampled_from([EMPTY, POPPING, STEAMING]), st.integers(0, 480))
def test_any_profile_leaves_a_deadline_below_the_cap_and_a_blind_cook_as_short(
    oven: OvenProfile, cook: Cook, as_of_s: int
) -> None:
    setup = Setup(oven=oven)
    decision = ask(cook, float(as_of_s), setup)
    assert decision.stop_by_s <= POPCORN.number("max_heating_s")
    if cook is EMPTY:
        blind = ask(cook, float(as_of_s))
        assert (decision.decision, decision.stop_by_s) == (blind.decision, blind.stop_by_s)
    assert decide(programme=POPCORN, setup=setup, cook=cook, as_of_ms=480_000).decision == "stop"
