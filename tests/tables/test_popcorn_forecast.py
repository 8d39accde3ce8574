"""What sound and steam foretell of a bag, each alone and together, and what knowing the bag and the oven adds."""

import numpy as np
import pytest

from service.forecast.outlook import Outlook
from service.forecast.popcorn import popcorn_outlook
from service.forecast.stop_time import stop_time
from service.readings.cook import EMPTY, Cook
from service.readings.heating import HeatingClock
from service.rules.decision import Remaining, Setup
from tests.cooks import (
    NOTHING_SAID,
    POPCORN,
    all_of,
    ask,
    drawn_pops_s,
    first_stop,
    steaming_rows,
    told,
)
from tests.simulation import simulate

PEAK_S, OPENED_S = 100.0, 97.0
SOUND = Cook.of(pops_s=drawn_pops_s(420, PEAK_S, 14.0, seed=5))
STEAM = Cook.of(humidity=steaming_rows(200.0, released_s=OPENED_S))
BOTH = SOUND.merged(STEAM)
# 420 pops, normal about 100 s with 14 s: a tenth of all listeners have heard the silence by then; a pop in two seconds.
GOOD_S = (128.0, 135.5)


def outlook(cook: Cook, as_of_s: float, setup: Setup = NOTHING_SAID) -> Outlook:
    as_of_ms = round(as_of_s * 1000.0)
    seen = cook.until(as_of_ms)
    return popcorn_outlook(POPCORN, setup, seen, HeatingClock.of(seen, as_of_ms), 1.28)


def ahead(cook: Cook, as_of_s: float, setup: Setup = NOTHING_SAID) -> Remaining:
    remaining = ask(cook, as_of_s, setup).remaining
    assert remaining is not None
    return remaining


def width_s(remaining: Remaining) -> float:
    return remaining.high_s - remaining.low_s


SENSORS = {"sound": (SOUND, 105.0), "steam": (STEAM, 108.0), "both": (BOTH, 108.0)}


@pytest.mark.parametrize("sensors", SENSORS)
def test_either_sensor_alone_gives_a_forecast_and_both_give_one_together(sensors: str) -> None:
    cook, as_of_s = SENSORS[sensors]
    found = outlook(cook, as_of_s)
    assert found.led_by == sensors
    assert (found.by_sound is None) == (sensors == "steam")
    assert (found.by_steam is None) == (sensors == "sound")
    assert not found.disagree


@pytest.mark.parametrize("sensors", SENSORS)
def test_the_forecast_is_a_distribution(sensors: str) -> None:
    """A middle and a spread, both finite, and moments in order from early to late."""
    found = outlook(*SENSORS[sensors])
    for stop in (found.stop, found.by_sound, found.by_steam):
        if stop is not None:
            moments_s = [stop.at_sd(deviation_sd) for deviation_sd in (-2.0, -1.0, 0.0, 1.0, 2.0)]
            assert moments_s == sorted(moments_s)
            assert np.isfinite(moments_s).all()
            assert 0.0 < stop.log_sd < 0.5


def test_hypotheses_are_summed_up_by_their_weighted_logarithms() -> None:
    found = stop_time(np.array([150.0, 100.0, 120.0]), np.array([1.0, 1.0, 2.0]))
    logs = np.log([100.0, 120.0, 120.0, 150.0])
    assert found.at_sd(0.0) == pytest.approx(np.exp(logs.mean()))
    assert found.log_sd == pytest.approx(logs.std())


@pytest.mark.parametrize(("as_of_s", "off_s"), [(90.0, 20.0), (105.0, 20.0), (115.0, 18.0), (122.0, 12.0)])
def test_sound_alone_foretells_the_silence(as_of_s: float, off_s: float) -> None:
    """Ten seeded bags: the median forecast lies near the window of good stops, closer as the end nears."""
    stops = []
    for seed in range(10):
        cook = Cook.of(pops_s=drawn_pops_s(420, PEAK_S, 14.0, seed=seed))
        stops.append(as_of_s + ahead(cook, as_of_s).estimate_s)
    middle = float(np.median(stops))
    assert GOOD_S[0] - off_s < middle < GOOD_S[1] + off_s


def test_steam_alone_foretells_the_stop_and_counts_down_to_it() -> None:
    """A quarter to three quarters more than the time to steam, and the same moment whenever one asks."""
    stops_s = [as_of_s + ahead(STEAM, as_of_s).estimate_s for as_of_s in (106.0, 112.0, 120.0)]
    assert np.ptp(stops_s) < 0.5
    assert 1.25 < stops_s[0] / OPENED_S < 1.75


@pytest.mark.parametrize("factor", [0.6, 0.8, 1.3, 1.8])
def test_what_stretches_the_time_to_steam_stretches_the_time_to_the_stop(factor: float) -> None:
    """Up to what is known of bags beforehand, which pulls the far ones a little towards the usual."""
    stretched = Cook.of(humidity=steaming_rows(300.0, released_s=factor * OPENED_S))
    usual_s = 112.0 + ahead(STEAM, 112.0).estimate_s
    as_of_s = factor * OPENED_S + 12.0
    assert as_of_s + ahead(stretched, as_of_s).estimate_s == pytest.approx(factor * usual_s, rel=0.12)


def test_two_sensors_that_agree_know_no_less_than_one() -> None:
    as_of_s = 106.0
    together = width_s(ahead(BOTH, as_of_s))
    assert together < 1.05 * width_s(ahead(STEAM, as_of_s))
    assert together < 1.05 * width_s(ahead(SOUND, as_of_s))


def test_steam_draws_an_early_forecast_of_the_sound_towards_its_own() -> None:
    as_of_s = 106.0
    found = outlook(BOTH, as_of_s)
    assert found.by_sound is not None
    assert found.by_steam is not None
    assert found.stop is not None
    sound, steam, both = (stop.at_sd(0.0) for stop in (found.by_sound, found.by_steam, found.stop))
    assert min(sound, steam) - 1.0 <= both <= max(sound, steam) + 1.0
    assert abs(both - sound) > 0.1


@pytest.mark.parametrize("opened_s", [50.0, 60.0])
def test_sound_is_followed_when_steam_came_far_too_early(opened_s: float) -> None:
    """Something else let out a cloud: the two contradict each other, it is said so, and the pops decide."""
    cook = SOUND.merged(Cook.of(humidity=steaming_rows(200.0, released_s=opened_s)))
    found = outlook(cook, 118.0)
    assert found.disagree
    assert found.led_by == "sound"
    alone = outlook(SOUND, 118.0)
    assert found.stop is not None
    assert alone.stop is not None
    assert found.stop.at_sd(0.0) == pytest.approx(alone.stop.at_sd(0.0), abs=0.5)
    decision = ask(cook, 118.0)
    assert decision.decision == "warn"
    assert "sensors-disagree" in [reason.rule for reason in decision.reasons]


UNSEEN = Cook.of(humidity=steaming_rows(200.0, released_s=900.0))


def test_half_a_curve_foretells_a_later_end_while_a_working_sensor_has_seen_no_steam() -> None:
    """Until so late that no bag would still be shut: then it is the steam that passes the sensor by."""
    deaf = SOUND.until(84_000)
    found = [outlook(cook, at_s) for cook in (deaf, deaf.merged(UNSEEN)) for at_s in (96.0, 112.0)]
    assert {one.acoustic.status for one in found} == {"suspect"}
    without, _, unseen, longer = (one.stop.at_sd(0.0) for one in found if one.stop is not None)
    assert longer > unseen + 5.0
    assert longer > without + 5.0


def test_a_sensor_that_never_sees_the_steam_moves_no_stop_of_a_microphone_that_hears() -> None:
    moments_s = [132.0, 136.0, 140.0]
    both, sound = ([outlook(cook, at_s).stop for at_s in moments_s] for cook in (SOUND.merged(UNSEEN), SOUND))
    for stop, without in zip(both, sound, strict=True):
        assert stop is not None
        assert without is not None
        assert stop.at_sd(0.0) == pytest.approx(without.at_sd(0.0), abs=0.1)


def test_sensors_that_agree_are_not_said_to_disagree() -> None:
    for as_of_s in np.arange(100.0, 128.0):
        assert "sensors-disagree" not in [reason.rule for reason in ask(BOTH, as_of_s).reasons]


def test_steam_is_followed_when_the_microphone_died_and_the_two_disagree() -> None:
    deaf = Cook.of(pops_s=drawn_pops_s(420, 55.0, 8.0, seed=1)).until(56_000)
    late_steam = Cook.of(humidity=steaming_rows(260.0, released_s=150.0))
    found = outlook(deaf.merged(late_steam), 165.0)
    assert found.acoustic.status == "suspect"
    assert found.led_by == "steam" or not found.disagree
    assert found.stop is not None
    assert found.by_steam is not None
    assert found.stop.at_sd(0.0) > 150.0


def test_half_a_curve_beside_steam_is_worth_more_than_steam_alone() -> None:
    """Of bags that differ widely, at their first good moment: squared errors of the logarithm of the stop."""
    errors = []
    for seed in range(300, 380):
        cooked = simulate("mic-dies", seed, network=False, wide=True)
        truth = cooked.truth
        found = outlook(all_of(cooked), truth["stop_window_s"][0])
        if found.stop is not None and found.by_steam is not None and found.led_by == "both":
            typical = np.log(truth["typical_first_two_second_silence_s"])
            errors.append((found.stop.log_mean - typical, found.by_steam.log_mean - typical))
    both, steam = np.square(errors).mean(axis=0)
    assert len(errors) >= 70
    assert both < 0.96 * steam


def test_nothing_is_foretold_of_nothing() -> None:
    found = outlook(EMPTY, 60.0)
    assert found.stop is None
    assert found.led_by is None
    assert ask(EMPTY, 60.0).remaining is None


# What is known beforehand

KNOWN = Setup(rated_w=1000.0, load_g=88.0)


@pytest.mark.parametrize(("cook", "as_of_s"), [(SOUND, 82.0), (SOUND, 88.0), (STEAM, 106.0)])
def test_knowing_the_bag_and_the_oven_makes_an_early_forecast_no_wider(cook: Cook, as_of_s: float) -> None:
    assert width_s(ahead(cook, as_of_s, KNOWN)) < 1.06 * width_s(ahead(cook, as_of_s))


def test_knowing_both_makes_the_first_forecast_of_the_sound_clearly_narrower() -> None:
    """Five seeded bags, thirty seconds before their peak is over."""
    cooks = [Cook.of(pops_s=drawn_pops_s(420, PEAK_S, 14.0, seed=seed)) for seed in range(5)]
    known = [width_s(ahead(cook, 84.0, KNOWN)) for cook in cooks]
    unknown = [width_s(ahead(cook, 84.0)) for cook in cooks]
    assert np.mean(known) < 0.85 * np.mean(unknown)


def test_a_bigger_bag_is_expected_to_take_longer_and_a_stronger_oven_to_be_quicker() -> None:
    def stop_s(load_g: float, rated_w: float) -> float:
        return 108.0 + ahead(STEAM, 108.0, Setup(load_g=load_g, rated_w=rated_w)).estimate_s

    assert stop_s(45.0, 1000.0) < stop_s(88.0, 1000.0) < stop_s(120.0, 1000.0)
    assert stop_s(88.0, 1250.0) < stop_s(88.0, 1000.0) < stop_s(88.0, 700.0)


@pytest.mark.parametrize(
    "setup",
    [
        NOTHING_SAID,
        Setup(rated_w=900.0),
        Setup(load_g=60.0),
        Setup(load_g=45.0, rated_w=1200.0),
        Setup(load_g=130.0, rated_w=700.0),
    ],
)
def test_neither_is_ever_needed_nor_can_a_wrong_one_outweigh_the_pops(setup: Setup) -> None:
    """Near the end the pops have decided, whatever was said of the bag."""
    as_of_s = 124.0
    assert as_of_s + ahead(SOUND, as_of_s, setup).estimate_s == pytest.approx(
        as_of_s + ahead(SOUND, as_of_s).estimate_s, abs=8.0
    )


def test_kernels_left_fall_to_hardly_any() -> None:
    kernels = [told(ask(SOUND, as_of_s), "acoustic")["kernels_left"] for as_of_s in (95.0, 105.0, 115.0, 132.0)]
    estimates = [left["estimate"] for left in kernels]
    assert estimates == sorted(estimates, reverse=True)
    assert estimates[-1] < 20.0
    assert all(0.0 <= left["low"] <= left["estimate"] <= left["high"] for left in kernels)


def test_a_distribution_without_any_weight_is_refused() -> None:
    with pytest.raises(ValueError, match="weight"):
        stop_time(np.array([100.0, 110.0]), np.zeros(2))


# What the microphone hears of all pops


def thinned(cook: Cook, share: float, seed: int = 0) -> Cook:
    """The same cook by a microphone that hears this share of its pops."""
    heard = np.random.default_rng(seed).random(cook.pops_ms.size) < share
    return Cook.of(pops_s=cook.pops_ms[heard] / 1000.0).merged(STEAM)


@pytest.mark.parametrize("share", [0.2, 0.3, 0.5])
def test_a_microphone_that_hears_few_pops_does_not_make_a_small_bag(share: float) -> None:
    """Ten seeded bags: the stop is near the window of good stops all the same, where a small bag would be over before."""
    stops_s = []
    for seed in range(10):
        bag = Cook.of(pops_s=drawn_pops_s(420, PEAK_S, 14.0, seed=seed))
        stops_s.append(first_stop(thinned(bag, share, seed), from_s=60.0).as_of_s)
    assert np.mean([GOOD_S[0] - 4.0 <= stop_s <= GOOD_S[1] + 4.0 for stop_s in stops_s]) >= 0.8
    assert float(np.median(stops_s)) == pytest.approx(GOOD_S[0] + 2.0, abs=5.0)


def test_how_much_is_heard_is_told_from_how_many_pops_there_should_be() -> None:
    shares = [outlook(thinned(BOTH, share), 118.0).heard_share for share in (0.15, 0.4, 1.0)]
    assert None not in shares
    faint, middling, usual = (share for share in shares if share is not None)
    assert faint < 0.35
    assert faint < middling < usual
    assert usual > 0.65


def test_a_bag_of_known_mass_tells_the_share_that_is_heard_at_once() -> None:
    few = thinned(BOTH, 0.4)
    unknown, known = (outlook(few, 118.0, setup).heard_share for setup in (NOTHING_SAID, Setup(load_g=81.0)))
    assert known == pytest.approx(0.4, abs=0.15)
    assert unknown is not None
    assert known is not None
    assert abs(known - 0.4) < abs(unknown - 0.4)


def test_bags_that_pop_sooner_are_taken_for_smaller_ones() -> None:
    """Of as many pops heard, a larger share where the bag was soon done: it was small, and not the microphone faint."""

    def share(stretch: float) -> float | None:
        pops_s = drawn_pops_s(180, PEAK_S, 14.0, seed=3) * stretch
        return outlook(Cook.of(pops_s=pops_s), 120.0 * stretch).heard_share

    small, large = share(0.7), share(1.4)
    assert small is not None
    assert large is not None
    assert small > large + 0.05


@pytest.mark.parametrize("false_per_s", [0.3, 0.6, 1.0])
def test_a_steady_clutter_does_not_put_the_stop_off(false_per_s: float) -> None:
    """Ten seeded bags, up to as many false sounds as pops: at most a few seconds after the window of good stops."""
    stops_s = []
    for seed in range(10):
        rng = np.random.default_rng(100 + seed)
        clutter_s = rng.uniform(0.0, 200.0, rng.poisson(200.0 * false_per_s))
        noisy = Cook.of(pops_s=np.concatenate((drawn_pops_s(420, PEAK_S, 14.0, seed=seed), clutter_s))).merged(STEAM)
        stops_s.append(first_stop(noisy, from_s=60.0).as_of_s)
    assert np.mean([GOOD_S[0] - 4.0 <= stop_s <= GOOD_S[1] + 4.0 for stop_s in stops_s]) >= 0.8


@pytest.mark.parametrize("every_s", [0.1, 0.2])
def test_something_that_begins_to_click_midway_does_not_hold_up_the_stop_for_long(every_s: float) -> None:
    """Of a beat that is too quick to be told apart the steam says when the bag is done at the latest.

    The answer says that sound and steam contradict each other.
    """
    clicks_s = np.arange(90.0, 300.0, every_s)
    clicking = Cook.of(pops_s=np.concatenate((SOUND.pops_ms / 1000.0, clicks_s))).merged(
        Cook.of(humidity=steaming_rows(300.0, released_s=OPENED_S))
    )
    stop = first_stop(clicking, from_s=60.0)
    assert GOOD_S[0] < stop.as_of_s < GOOD_S[1] + 20.0
    assert stop.reasons[0].rule == "steam-clock-reached"
    assert "sensors-disagree" in [reason.rule for reason in ask(clicking, stop.as_of_s - 2.0).reasons]


def test_steam_before_any_popping_is_not_that_of_the_bag() -> None:
    """It came at 60 s, from something else: the sound, which begins at 75 s, is heard out."""
    early = SOUND.merged(Cook.of(humidity=steaming_rows(200.0, released_s=50.0)))
    assert GOOD_S[0] - 4.0 < first_stop(early, from_s=80.0).as_of_s < GOOD_S[1] + 4.0


# How sure it is


def test_a_forecast_that_is_put_off_is_no_surer_for_it() -> None:
    """A few pops before any steam stop nothing before a blind cook would end, but the end is not known to the second."""
    few = Cook.of(pops_s=np.linspace(40.0, 48.0, 12), humidity=steaming_rows(60.0, released_s=999.0))
    remaining = ahead(few, 50.0)
    assert remaining.estimate_s >= POPCORN.number("blind_heating_s") - 50.0
    assert remaining.low_s <= remaining.estimate_s
    assert remaining.high_s > remaining.estimate_s + 2.0


def test_the_first_pops_are_trusted_least() -> None:
    """The interval over the spread of the forecast: wider when popping has just begun than at its end."""

    def widened(as_of_s: float) -> float:
        stop = outlook(SOUND, as_of_s).stop
        assert stop is not None
        return width_s(ahead(SOUND, as_of_s)) / (stop.at_sd(1.28) - stop.at_sd(-1.28))

    ratios = [widened(as_of_s) for as_of_s in (85.0, 100.0, 115.0)]
    assert ratios == sorted(ratios, reverse=True)
    assert ratios[0] < POPCORN.number("interval_early") + 0.01
    assert ratios[-1] > POPCORN.number("interval_late") - 0.01
