"""What is made of the sound: popping or strays, a microphone that dies, a link that is late."""

from typing import Any

import numpy as np
import pytest

from service.evidence.acoustic import listened_until_s
from service.readings.cook import Cook
from service.rules.decision import Setup
from tests.cooks import (
    NOTHING_SAID,
    FloatArray,
    ask,
    asked,
    drawn_pops_s,
    first_stop,
    humidity_rows,
    simulated,
    steaming_rows,
    told,
    whole,
)
from tests.simulation.microphone import counted_s

LINK_LAG_S = 0.3
KERNELS, PEAK_S, SPREAD_S = 420, 100.0, 14.0


def heard(cook: Cook, as_of_s: float, setup: Setup = NOTHING_SAID) -> dict[str, Any]:
    return told(ask(cook, as_of_s, setup), "acoustic")


def dying(share: float, seed: int) -> tuple[Cook, float]:
    """A bag of which a microphone heard the first pops, up to this share; and when it died."""
    pops_s = drawn_pops_s(KERNELS, PEAK_S, SPREAD_S, seed=seed)
    died_s = float(np.quantile(pops_s, share))
    return Cook.of(pops_s=pops_s[pops_s <= died_s]), died_s


DEATHS = [(share, seed) for share in (0.2, 0.4, 0.5, 0.6, 0.8) for seed in range(3)]


@pytest.mark.parametrize(("share", "seed"), DEATHS)
def test_a_microphone_that_dies_among_brisk_popping_is_suspect_within_three_seconds(share: float, seed: int) -> None:
    cook, died_s = dying(share, seed)
    assert heard(cook, died_s + LINK_LAG_S)["status"] == "usable"
    assert heard(cook, died_s + 3.0)["status"] == "suspect"
    decision = ask(cook, died_s + 3.0)
    assert decision.decision == "warn"
    assert "microphone-suspect" in [reason.rule for reason in decision.reasons]


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_the_forecast_of_a_dead_microphone_is_the_one_that_it_had(share: float) -> None:
    """It moves by some seconds while the silence is not yet strange, then stands still to the millisecond."""
    moved_s = []
    for seed in range(6):
        cook, died_s = dying(share, seed)
        before_s = heard(cook, died_s + LINK_LAG_S)["stop_s"]
        stops_s = [heard(cook, died_s + later_s)["stop_s"] for later_s in (3.0, 6.0, 12.0, 20.0)]
        assert np.ptp(stops_s) < 1e-3
        moved_s.append(abs(stops_s[0] - before_s))
    assert np.median(moved_s) < 5.0
    assert max(moved_s) < 12.5


def test_a_dead_microphone_does_not_end_a_cook_early() -> None:
    """Whatever stops it, it is not the silence, and it is not within ten seconds of the peak."""
    for share, seed in DEATHS[:9]:
        stop = first_stop(dying(share, seed)[0], from_s=60.0)
        assert stop.as_of_s > PEAK_S + 10.0
        assert stop.reasons[0].rule != "silence-heard"


def test_a_stray_click_does_not_revive_a_dead_microphone() -> None:
    cook, died_s = dying(0.5, 1)
    with_strays = cook.merged(Cook.of(pops_s=[died_s + 6.0, died_s + 13.0]))
    assert heard(with_strays, died_s + 13.5)["status"] == "suspect"


@pytest.mark.parametrize("strays_after_s", [[4.6, 6.6], [1.5, 3.0, 9.0], [5.0, 5.4, 14.0]])
@pytest.mark.parametrize("seed", range(3))
def test_a_dead_microphone_stays_dead_however_long_its_silence_grows_among_strays(
    strays_after_s: list[float], seed: int
) -> None:
    """A silence after a stray is no end of popping: nothing is believed but what was heard before the death."""
    cook, died_s = dying(0.4, seed)
    foretold_s = heard(cook, died_s + 3.0)["stop_s"]
    with_strays = cook.merged(Cook.of(pops_s=[died_s + after_s for after_s in strays_after_s]))
    for later_s in np.arange(strays_after_s[-1] + 0.5, 30.0):
        sound = heard(with_strays, died_s + later_s)
        assert sound["status"] == "suspect"
        assert sound["stop_s"] == pytest.approx(foretold_s, abs=1e-3)


@pytest.mark.parametrize("heard_first", [3, 9, 16, 24, 35])
def test_a_microphone_that_dies_after_a_few_pops_leaves_the_cook_to_the_steam(heard_first: int) -> None:
    """Silence after a few pops is no end while the humidity sensor works and has seen no steam; then the steam tells."""
    pops_s = drawn_pops_s(KERNELS, PEAK_S, SPREAD_S, seed=4)[:heard_first]
    steam = Cook.of(humidity=steaming_rows(200.0, released_s=97.0))
    cook = steam.merged(Cook.of(pops_s=pops_s))
    stop, by_steam = first_stop(cook, from_s=60.0), first_stop(steam, from_s=60.0)
    assert stop.reasons[0].rule == "steam-clock-reached"
    assert stop.as_of_s == by_steam.as_of_s
    deadlines_s = [ask(cook, as_of_s).stop_by_s for as_of_s in np.arange(60.0, 97.0)]
    assert min(deadlines_s) > 97.0


def test_a_burst_of_strays_long_before_the_popping_ends_no_cook_while_the_humidity_sensor_works() -> None:
    """The bag whose first pops they could have been would steam by the time at which a blind cook ends, and does not."""
    strays_s = [36.5, 47.6, 51.4, 52.4, 52.6, 52.7, 53.3, 53.5, 55.2, 57.4, 57.8, 58.0, 58.3, 66.8]
    later_s = drawn_pops_s(KERNELS, PEAK_S + 65.0, SPREAD_S, seed=4)
    dry = Cook.of(humidity=steaming_rows(300.0, released_s=PEAK_S + 62.0))
    cook = dry.merged(Cook.of(pops_s=[*strays_s, *later_s[later_s > 120.0]]))
    waiting = [ask(cook, as_of_s) for as_of_s in (100.0, 110.0, 118.0)]
    assert {decision.decision for decision in waiting} == {"warn"}
    assert {decision.remaining for decision in waiting} == {None}
    assert all(0.0 < decision.stop_by_s - decision.as_of_s < 20.0 for decision in waiting)
    assert all("A few sounds" in decision.reasons[0].says for decision in waiting)
    assert first_stop(cook, from_s=60.0).as_of_s > PEAK_S + 65.0 + SPREAD_S


STEADY = [(kind, seed) for kind in ("regular", "snack", "low-power", "missed", "coated") for seed in range(200, 206)]


def suspected_s(kind: str, seed: int) -> list[float]:
    """Moments before the stop at which a microphone that hears all along was called suspect."""
    truth = simulated(kind, seed).truth
    moments_s = np.arange(np.floor(truth["peak_s"] - 20.0), truth["stop_window_s"][1] + 30.0, 2.0)
    suspected = []
    for decision in asked(whole(kind, seed), moments_s):
        if decision.decision == "stop":
            break
        if told(decision, "acoustic")["status"] == "suspect":
            suspected.append(decision.as_of_s)
    return suspected


def test_an_end_of_popping_that_is_no_fault_is_never_called_one() -> None:
    """Thirty simulated cooks at steady power, five kinds of bag, oven and ear."""
    assert not {cook: moments_s for cook in STEADY if (moments_s := suspected_s(*cook))}


def test_corn_that_regains_its_heat_after_a_gap_of_the_magnetron_is_no_fault_of_the_microphone() -> None:
    """Eight simulated cooks in ovens that switch their magnetron: what cooled pops some seconds after heat is back."""
    cooks = [("duty-cycle", seed) for seed in range(200, 208)]
    assert not {cook: moments_s for cook in cooks if (moments_s := suspected_s(*cook))}


STRAYS = {
    "none": [],
    "one": [12.0],
    "a handful spread over a minute": [5.0, 14.0, 21.0, 30.0, 38.0, 47.0, 55.0, 59.0],
    "seven in a burst": [20.0, 20.4, 21.1, 21.9, 22.4, 23.0, 23.8],
}


@pytest.mark.parametrize("strays_s", STRAYS.values(), ids=STRAYS.keys())
def test_strays_alone_are_no_popping(strays_s: list[float]) -> None:
    decision = ask(Cook.of(pops_s=strays_s), 60.0)
    sound = told(decision, "acoustic")
    assert (sound["status"], sound["pops"], sound["kernels_left"]) == ("waiting", len(strays_s), None)
    assert decision.remaining is None


def test_the_eighth_pop_within_ten_seconds_begins_the_popping() -> None:
    run = 60.0 + np.arange(8) * 10.0 / 7.0
    assert heard(Cook.of(pops_s=run), 70.5)["status"] == "usable"
    assert heard(Cook.of(pops_s=60.0 + np.arange(8) * 10.1 / 7.0), 70.6)["status"] == "waiting"


@pytest.mark.parametrize("rate_per_s", [0.1, 0.2, 0.35])
def test_clutter_that_never_quickens_is_no_popping_however_long_it_lasts(rate_per_s: float) -> None:
    """Clicks at a steady rate: ten draws of three minutes each."""
    for seed in range(10):
        rng = np.random.default_rng(seed)
        clicks_s = np.sort(rng.uniform(0.0, 180.0, rng.poisson(180.0 * rate_per_s)))
        assert heard(Cook.of(pops_s=clicks_s), 180.0)["status"] == "waiting"


def test_popping_is_told_from_the_clutter_that_it_begins_in() -> None:
    clicks_s = np.random.default_rng(2).uniform(0.0, 180.0, 60)
    cook = Cook.of(pops_s=np.concatenate((clicks_s, drawn_pops_s(KERNELS, PEAK_S, SPREAD_S, seed=3))))
    assert heard(cook, 60.0)["status"] == "waiting"
    assert heard(cook, 85.0)["status"] == "usable"


def test_a_burst_of_noise_before_the_popping_ends_no_cook() -> None:
    """Thirty clicks in four seconds, as of a door or of dishes: the bag itself pops a minute later."""
    noise_s = 30.0 + np.random.default_rng(1).uniform(0.0, 4.0, 30)
    bag = Cook.of(
        pops_s=drawn_pops_s(KERNELS, PEAK_S, SPREAD_S, seed=5), humidity=steaming_rows(200.0, released_s=97.0)
    )
    stop = first_stop(bag.merged(Cook.of(pops_s=noise_s)), from_s=20.0)
    assert stop.as_of_s == pytest.approx(first_stop(bag, from_s=20.0).as_of_s, abs=3.0)


def test_a_group_of_early_pops_does_not_end_a_bag_of_hundreds() -> None:
    """Twenty pops of a few hot kernels, a lull of four seconds, then the bag itself: no bag holds only twenty."""
    early_s = [40.2, 41.6, 42.8, 43.7, 44.5, 44.8, 45.2, 45.4, 45.5, 45.7]
    early_s += [46.7, 47.4, 47.5, 48.4, 50.3, 50.4, 50.5, 50.6, 51.2, 55.5]
    bag_s = drawn_pops_s(400, 92.0, 13.0, seed=3)
    cook = Cook.of(pops_s=np.concatenate((early_s, bag_s[bag_s > 60.0])))
    assert first_stop(cook, from_s=41.0).as_of_s > 110.0


@pytest.mark.parametrize("dead_time_s", [0.03, 0.05, 0.07])
@pytest.mark.parametrize("seed", range(3))
def test_the_dead_time_is_read_from_the_gaps(dead_time_s: float, seed: int) -> None:
    counted = counted_s(drawn_pops_s(KERNELS, PEAK_S, SPREAD_S, seed=seed), dead_time_s, paralysable=False)
    assert heard(Cook.of(pops_s=counted), 140.0)["dead_time_s"] == pytest.approx(dead_time_s, abs=0.012)


def test_before_the_gaps_can_show_it_the_dead_time_is_the_programmes() -> None:
    assert heard(Cook.of(pops_s=[60.0, 60.1, 63.0]), 65.0)["dead_time_s"] == 0.04


def test_pops_that_merge_are_counted_back_into_the_rate() -> None:
    """At ten a second a dead time of 50 ms lets seven through (non-paralysable: 10 / (1 + 10 * 0.05) = 6.67).

    Over windows of five seconds the correction is a tenth too high, since it is steeper above the mean than below it.
    """
    rng = np.random.default_rng(4)
    counted = counted_s(np.sort(rng.uniform(60.0, 120.0, 600)), 0.05, paralysable=False)
    rates = [heard(Cook.of(pops_s=counted), as_of_s)["rate_per_s"] for as_of_s in np.arange(65.3, 120.0, 5.0)]
    assert np.mean(rates) == pytest.approx(10.0, rel=0.2)
    assert counted.size / 60.0 < 7.2


def humidity_until(until_s: float, every_s: float = 1.0) -> FloatArray:
    t_s = np.arange(0.0, until_s + 1e-9, every_s)
    return humidity_rows(t_s, np.full(t_s.size, 9.0))


# Newest humidity reading, newest pop, moment asked about, and until when the pops have probably all arrived (in s).
LINKS = {
    "both up to date": (100.0, 99.8, 100.2, 99.7),
    "the whole link three seconds late": (97.0, 96.8, 100.0, 96.7),
    "pops end, humidity goes on": (100.0, 91.0, 100.0, 99.7),
    "humidity fell silent, pops go on": (60.0, 99.0, 100.0, 99.7),
    "no humidity sensor": (None, 99.0, 100.0, 99.7),
    "humidity a moment late, pops beyond it": (97.0, 98.5, 100.0, 98.2),
}


@pytest.mark.parametrize(("humid_s", "pop_s", "as_of_s", "until_s"), LINKS.values(), ids=LINKS.keys())
def test_listening_goes_as_far_as_the_link_has_come(
    humid_s: float | None, pop_s: float, as_of_s: float, until_s: float
) -> None:
    rows = () if humid_s is None else humidity_until(humid_s)
    cook = Cook.of(pops_s=[80.0, 85.0, pop_s], humidity=rows)
    assert listened_until_s(cook, as_of_s, LINK_LAG_S) == pytest.approx(until_s, abs=1e-6)


def test_a_silence_that_is_only_late_is_no_silence() -> None:
    """The link stalls for three seconds in the tail; when it has caught up the silence is what it was."""
    pops_s = drawn_pops_s(KERNELS, PEAK_S, SPREAD_S, seed=2)
    readings_s = np.arange(0.0, 123.0)
    on_time = Cook.of(pops_s=pops_s, humidity=humidity_rows(readings_s, np.full(123, 9.0)))
    stalled = on_time.until(119_000)
    assert heard(stalled, 122.0)["silence_s"] == pytest.approx(heard(stalled, 119.0)["silence_s"], abs=0.01)
    assert heard(on_time, 122.0)["silence_s"] != heard(stalled, 122.0)["silence_s"]


def test_a_humidity_sensor_that_fell_silent_does_not_stop_the_ear() -> None:
    """It stopped at 60 s; the pops go on and thin out, and the silence after the last of them counts."""
    cook = Cook.of(pops_s=drawn_pops_s(KERNELS, PEAK_S, SPREAD_S, seed=2), humidity=humidity_until(60.0))
    last_s = float(cook.pops_ms[-1]) / 1000.0
    assert heard(cook, last_s + 3.0)["silence_s"] == pytest.approx(3.0 - LINK_LAG_S, abs=0.01)
    without = Cook.of(pops_s=cook.pops_ms / 1000.0)
    assert first_stop(cook, from_s=100.0).as_of_s == first_stop(without, from_s=100.0).as_of_s


def test_an_appliance_without_a_microphone_has_none() -> None:
    assert heard(Cook.of(), 50.0, Setup(sensors=("moisture",)))["status"] == "absent"
    assert heard(Cook.of(), 50.0, Setup(sensors=("acoustic", "moisture")))["status"] == "waiting"


def test_a_microphone_that_never_heard_a_bag_which_has_long_been_steaming_is_suspect() -> None:
    """A bag opens when about half of it has popped: half a minute later a good microphone has heard hundreds."""
    cook = Cook.of(humidity=steaming_rows(120.0, released_s=85.0))
    assert heard(cook, 115.0, Setup(sensors=("acoustic", "moisture")))["status"] == "suspect"


@pytest.mark.parametrize("seed", range(4))
def test_a_bag_that_ends_sooner_than_it_began_has_not_lost_its_microphone(seed: int) -> None:
    """80 kernels pop early and 300 at once; then nine come singly, which a dead microphone would not hear."""
    rng = np.random.default_rng(seed)
    bag_s = np.concatenate((rng.uniform(62.0, 92.0, 80), rng.normal(100.0, 7.0, 300)))
    singly_s = 112.0 + np.cumsum(0.3 + rng.exponential(1.1, 9))
    cook = Cook.of(pops_s=np.concatenate((bag_s[bag_s < 112.0], singly_s)))
    assert heard(cook, float(singly_s[-1]) + 1.0)["status"] == "usable"
    assert first_stop(cook, from_s=90.0).as_of_s < singly_s[-1] + 8.0


@pytest.mark.parametrize("seed", range(4))
def test_a_microphone_that_hears_a_stray_after_it_has_died_is_suspect_still(seed: int) -> None:
    cook, died_s = dying(0.5, seed)
    strays = Cook.of(pops_s=[died_s + 5.0, died_s + 11.0])
    assert heard(cook.merged(strays), died_s + 14.0)["status"] == "suspect"


def test_a_bag_that_pops_late_begins_as_much_more_slowly() -> None:
    """A pop every 2.5 s from 250 s on is a run there, where 8 take less than a tenth of the time; from 60 s on it is none."""
    assert heard(Cook.of(pops_s=250.0 + 2.5 * np.arange(10)), 275.0)["status"] == "usable"
    assert heard(Cook.of(pops_s=60.0 + 2.5 * np.arange(10)), 85.0)["status"] == "waiting"


@pytest.mark.parametrize("dead_time_s", [0.15, 0.25])
def test_a_dead_time_that_is_long_beyond_doubt_is_believed(dead_time_s: float) -> None:
    """The one that stands in the programme is no bound where no gap of a whole cook is shorter."""
    for seed in range(3):
        pops_s = counted_s(drawn_pops_s(KERNELS, PEAK_S, SPREAD_S, seed=seed), dead_time_s, paralysable=False)
        assert heard(Cook.of(pops_s=pops_s), 140.0)["dead_time_s"] == pytest.approx(dead_time_s, rel=0.1)
