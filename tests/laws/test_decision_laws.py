"""Laws of the decision: what must hold of every answer, whatever was read and however it came."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import inf, isfinite
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from service.readings.cook import EMPTY, NO_AIR, Cook
from service.readings.heating import HeatingClock
from service.readings.settled import Settled
from service.rules.decide import decide
from service.rules.decision import Decision, Setup
from service.rules.table import RULES
from service.units import IntArray
from tests.cooks import (
    NOTHING_SAID,
    POPCORN,
    FloatArray,
    ask,
    asked,
    drawn_pops_s,
    first_stop,
    steaming_rows,
    told,
    whole,
)
from tests.laws.cooks import Reading, cook_of
from tests.laws.cooks import readings as any_readings

CAP_S = POPCORN.number("max_heating_s")
TOP_UP_S = POPCORN.number("top_up_heating_s")
SHORT_MS = round(1000.0 * POPCORN.number("cooling_after_s"))
TINY_S = 1e-6

SOME = {
    "sound and steam": lambda: Cook.of(
        pops_s=drawn_pops_s(420, 100.0, 14.0, seed=5), humidity=steaming_rows(170.0, released_s=97.0)
    ),
    "sound alone": lambda: Cook.of(pops_s=drawn_pops_s(300, 85.0, 12.0, seed=2)),
    "steam alone": lambda: Cook.of(humidity=steaming_rows(170.0, released_s=80.0, lag_s=6.0)),
    "regular": lambda: whole("regular", 31),
    "paused": lambda: whole("paused", 32),
    "duty-cycle": lambda: whole("duty-cycle", 33),
    "mic-dies": lambda: whole("mic-dies", 34),
    "humidity-dead": lambda: whole("humidity-dead", 35),
    "early-strays": lambda: whole("early-strays", 36),
}
names = st.sampled_from(sorted(SOME))
moments_s = st.one_of(st.floats(0.0, 260.0), st.integers(60, 170).map(float))
setups = st.builds(
    Setup,
    rated_w=st.none() | st.floats(100.0, 3000.0),
    load_g=st.none() | st.floats(5.0, 5000.0),
    gap_s=st.none() | st.floats(0.5, 10.0),
    sensors=st.sampled_from([None, ("acoustic",), ("acoustic", "moisture"), ("moisture",)]),
    max_heating_s=st.none() | st.floats(10.0, 7200.0),
)


def numbers_in(answer: Any) -> Iterator[Any]:
    """Every number in an answer, however deep."""
    if isinstance(answer, Mapping):
        for inner in answer.values():
            yield from numbers_in(inner)
    elif isinstance(answer, tuple | list):
        for inner in answer:
            yield from numbers_in(inner)
    elif answer is not None and not isinstance(answer, str):
        yield answer


def all_numbers(decision: Decision) -> list[Any]:
    reasons = [(reason.value, reason.limit) for reason in decision.reasons]
    ahead = decision.remaining
    left = () if ahead is None else (ahead.estimate_s, ahead.low_s, ahead.high_s, ahead.interval_pct)
    return list(
        numbers_in((decision.as_of_s, left, decision.stop_by_s, decision.post_again_in_s, reasons, decision.evidence))
    )


def clock_of(cook: Cook, as_of_s: float) -> HeatingClock:
    return HeatingClock.of(cook.until(round(as_of_s * 1000)), round(as_of_s * 1000))


def heating_s(cook: Cook, as_of_s: float) -> float:
    return clock_of(cook, as_of_s).heating_s(as_of_s)


def check_answer(decision: Decision, cook: Cook, setup: Setup) -> None:
    """What holds of any answer at all."""
    assert all(isfinite(number) for number in all_numbers(decision))
    assert decision.reasons
    assert {rule.verdict for rule in RULES if rule.code == decision.reasons[0].rule} == {decision.decision}
    assert decision.post_again_in_s > 0.0
    check_deadline(decision, heating_s(cook, decision.as_of_s), min(CAP_S, setup.max_heating_s or inf))
    if decision.remaining is not None:
        left = decision.remaining
        assert 0.0 <= left.low_s <= left.estimate_s <= left.high_s
        clock, cap_s = clock_of(cook, decision.as_of_s), min(CAP_S, setup.max_heating_s or inf)
        assert left.high_s <= clock.cook_s_of_heating(cap_s - clock.now_heating_s) + TINY_S
    if decision.decision == "stop":
        assert decision.remaining is not None
        assert decision.remaining.high_s == 0.0
        assert decision.settled.stop_ms is not None


def check_deadline(decision: Decision, heated_s: float, cap_s: float) -> None:
    as_of_s = decision.as_of_s
    if decision.decision == "stop":
        assert 0.0 <= decision.stop_by_s <= as_of_s
        return
    assert decision.stop_by_s >= as_of_s
    assert decision.stop_by_s <= as_of_s + max(cap_s - heated_s, 0.0) + TINY_S
    if decision.remaining is not None:
        assert decision.stop_by_s <= as_of_s + decision.remaining.high_s + TINY_S


# The same readings, however they came


def scattered(cook: Cook, chance: Random) -> Cook:
    """All readings in shuffled batches that overlap, some of them more than once."""
    columns = (cook.humidity_ms / 1000.0, cook.humidity_permille / 10.0, cook.air_decidegrees / 10.0)
    air_unknown = cook.air_decidegrees == NO_AIR
    readings: list[tuple[str, Any]] = [("pops_s", t) for t in (cook.pops_ms / 1000.0).tolist()]
    for t, rh, air, unknown in zip(*(column.tolist() for column in columns), air_unknown.tolist(), strict=True):
        readings.append(("humidity", (t, rh, None if unknown else air)))
    readings += [("power", pair) for pair in zip(cook.power_ms / 1000.0, cook.power_permille / 1000.0, strict=True)]
    readings += [("restarts_s", t) for t in (cook.restarts_ms / 1000.0).tolist()]
    readings += chance.sample(readings, len(readings) // 5)
    chance.shuffle(readings)
    together = EMPTY
    while readings:
        count = chance.randint(1, 80)
        batch, readings = readings[:count], readings[count:]
        kinds = {kind for kind, _ in batch}
        parts: dict[str, Any] = {kind: [one for name, one in batch if name == kind] for kind in kinds}
        together = together.merged(Cook.of(**parts))
    return together


@settings(max_examples=40, deadline=None)
@given(names, moments_s, st.randoms(use_true_random=False))
def test_order_repetition_and_batches_do_not_matter(name: str, as_of_s: float, chance: Random) -> None:
    cook = SOME[name]()
    assert ask(scattered(cook, chance), as_of_s) == ask(cook, as_of_s)


@settings(max_examples=40, deadline=None)
@given(names, moments_s, setups)
def test_asking_again_gives_the_same_answer(name: str, as_of_s: float, setup: Setup) -> None:
    cook = SOME[name]()
    assert ask(cook, as_of_s, setup) == ask(cook, as_of_s, replace(setup))


@settings(max_examples=60, deadline=None)
@given(names, moments_s)
def test_readings_later_than_now_do_not_matter_yet(name: str, as_of_s: float) -> None:
    cook = SOME[name]()
    assert ask(cook, as_of_s) == ask(cook.until(round(as_of_s * 1000)), as_of_s)


def test_readings_later_than_now_matter_once_it_is_their_time() -> None:
    cook = SOME["sound alone"]()
    heard = [told(ask(cook, as_of_s), "acoustic")["pops"] for as_of_s in (70.0, 80.0, 90.0, 130.0)]
    assert heard == [int(np.count_nonzero(cook.pops_ms <= t)) for t in (70_000, 80_000, 90_000, 130_000)]
    assert heard[0] < heard[1] < heard[2] < heard[3] == cook.pops_ms.size


@settings(max_examples=25, deadline=None)
@given(names, st.floats(100.0, 118.0), st.integers(0, 10_000))
def test_posting_bit_by_bit_ends_where_posting_at_once_does(name: str, as_of_s: float, seed: int) -> None:
    """As long as it was not stopped on the way, what was asked before is forgotten."""
    cook = SOME[name]()
    rng = np.random.default_rng(seed)
    settled, got = None, EMPTY
    for moment_s in [*np.sort(rng.uniform(30.0, as_of_s, 3)).tolist(), as_of_s]:
        got = got.merged(cook.until(round(moment_s * 1000)))
        decision = ask(got, moment_s, NOTHING_SAID, settled)
        settled = decision.settled
        assume(decision.decision != "stop" or moment_s == as_of_s)
    assert decision == ask(cook, as_of_s)


# Readings that are a little off


def jittered(cook: Cook, largest_s: float, seed: int) -> Cook:
    rng = np.random.default_rng(seed)

    def moved(times_ms: IntArray) -> FloatArray:
        times_s: FloatArray = times_ms / 1000.0 + rng.uniform(-largest_s, largest_s, times_ms.size)
        return np.maximum(times_s, 0.0)

    rows = np.column_stack((moved(cook.humidity_ms), cook.humidity_permille / 10.0, cook.air_decidegrees / 10.0))
    power = np.column_stack((moved(cook.power_ms), cook.power_permille / 1000.0))
    return Cook.of(pops_s=moved(cook.pops_ms), humidity=rows, power=power)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(["sound and steam", "sound alone", "steam alone", "regular"]), moments_s, st.integers(0, 99))
def test_less_than_the_resolution_changes_nothing(name: str, as_of_s: float, seed: int) -> None:
    cook = SOME[name]()
    assert ask(jittered(cook, 0.00049, seed), as_of_s) == ask(cook, as_of_s)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(["sound and steam", "sound alone", "steam alone"]), st.floats(80.0, 120.0), st.integers(0, 99))
def test_some_milliseconds_here_and_there_change_the_forecast_little(name: str, as_of_s: float, seed: int) -> None:
    """By less than half of the interval that is told with it, or a second; mostly by a tenth of a second."""
    cook = SOME[name]()
    before, after = ask(cook, as_of_s).remaining, ask(jittered(cook, 0.004, seed), as_of_s).remaining
    if before is not None and after is not None:
        off_s = max(1.0, (before.high_s - before.low_s) / 2.0)
        assert after.estimate_s == pytest.approx(before.estimate_s, abs=off_s)


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(["sound and steam", "sound alone", "steam alone"]), st.integers(85, 120), st.integers(1, 5))
def test_shifting_a_whole_cook_by_some_milliseconds_shifts_the_stop_with_it(
    name: str, as_of_s: int, by_ms: int
) -> None:
    cook = SOME[name]()
    by_s = by_ms / 1000.0
    rows = np.column_stack(
        (cook.humidity_ms / 1000.0 + by_s, cook.humidity_permille / 10.0, cook.air_decidegrees / 10.0)
    )
    shifted = Cook.of(pops_s=cook.pops_ms / 1000.0 + by_s, humidity=rows)
    before, after = ask(cook, float(as_of_s)).remaining, ask(shifted, as_of_s + by_s).remaining
    assert (before is None) == (after is None)
    if before is not None and after is not None:
        assert after.estimate_s == pytest.approx(before.estimate_s, abs=1.5)


# A stop holds

STOPPED = Settled(as_of_ms=125_000, stop_ms=125_000, stop_rule="forecast-reached", nudge_ms=None)
later_power = st.lists(st.tuples(st.floats(0.0, 400.0), st.sampled_from([0.0, 0.4, 1.0])), max_size=6)
later_pops = st.lists(st.floats(0.0, 400.0), max_size=60)
earlier_restarts = st.lists(st.floats(0.0, 125.0), max_size=3)


@settings(max_examples=60, deadline=None)
@given(names, later_power, later_pops, earlier_restarts, st.floats(125.0, 400.0))
def test_a_stop_holds_whatever_is_read_until_a_restart(
    name: str, power: list[tuple[float, float]], pops_s: list[float], restarts_s: list[float], as_of_s: float
) -> None:
    cook = SOME[name]()
    more = cook.merged(Cook.of(pops_s=pops_s, power=power, restarts_s=restarts_s))
    decision = ask(more, as_of_s, NOTHING_SAID, STOPPED)
    assert decision.decision == "stop"
    assert decision.reasons[0].rule == "stop-already-given"
    assert decision.stop_by_s == 125.0
    assert decision.settled == STOPPED._replace(as_of_ms=round(as_of_s * 1000))
    check_answer(decision, more, NOTHING_SAID)


@settings(max_examples=40, deadline=None)
@given(names, later_power, st.floats(125.1, 200.0), st.integers(0, 60))
def test_a_top_up_never_lasts_longer_than_its_cap(
    name: str, power: list[tuple[float, float]], restart_s: float, after_s: int
) -> None:
    """Counted in heating; and the appliance is never told to go on by itself beyond that."""
    cook = SOME[name]().merged(Cook.of(power=power, restarts_s=[restart_s]))
    as_of_s = restart_s + after_s
    decision = ask(cook, as_of_s, NOTHING_SAID, STOPPED)
    heated_s = heating_s(cook, as_of_s) - heating_s(cook.until(round(as_of_s * 1000)), restart_s)
    if heated_s >= TOP_UP_S + 0.01:
        assert decision.decision == "stop"
    if decision.decision != "stop":
        assert decision.stop_by_s <= as_of_s + TOP_UP_S - heated_s + 0.01
    check_answer(decision, cook, NOTHING_SAID)


@pytest.mark.parametrize("heard", ["popping goes on", "no microphone"])
def test_a_top_up_ends_by_itself_and_the_stop_holds_again_until_the_next_restart(heard: str) -> None:
    pops_s = np.arange(60.0, 300.0, 0.4) if heard == "popping goes on" else ()
    cook = Cook.of(pops_s=pops_s, restarts_s=[130.0, 200.0])
    first = {one.as_of_s: one for one in asked(cook, np.arange(126.0, 260.0), settled=STOPPED)}
    assert {first[t].decision for t in np.arange(126.0, 130.0)} == {"stop"}
    assert {first[t].decision for t in np.arange(131.0, 160.0)} == {"warn"}
    assert first[160.0].reasons[0].rule == "top-up-over"
    assert {first[t].decision for t in np.arange(160.0, 200.0)} == {"stop"}
    assert first[170.0].reasons[0].rule == "stop-already-given"
    assert {first[t].decision for t in np.arange(201.0, 230.0)} == {"warn"}
    assert {first[t].decision for t in np.arange(230.0, 260.0)} == {"stop"}


def test_a_restart_means_heat_even_where_the_power_was_last_said_to_be_off() -> None:
    """The appliance said so when it stopped, and says nothing when a person starts it again: heat is taken for granted."""
    said_off = Cook.of(power=[(0.0, 1.0), (125.2, 0.0)], restarts_s=[130.0])
    decision = ask(SOME["sound and steam"]().merged(said_off), 165.0, NOTHING_SAID, STOPPED)
    assert decision.decision == "stop"


# Deadlines and caps


@settings(max_examples=120, deadline=None)
@given(names, moments_s, setups)
# Few pops of a heavy bag in a weak oven: a stop that is put off is no sooner than its interval by a rounding.
@example("regular", 57.0, Setup(load_g=1000.0, rated_w=150.0))
def test_every_answer_is_finite_in_order_and_within_its_caps(name: str, as_of_s: float, setup: Setup) -> None:
    cook = SOME[name]()
    check_answer(ask(cook, as_of_s, setup), cook, setup)


@pytest.mark.parametrize("setup", [NOTHING_SAID, Setup(sensors=("acoustic",)), Setup(max_heating_s=60.0)])
def test_the_deadline_of_a_blind_cook_stands_still(setup: Setup) -> None:
    """However late the link breaks, the appliance stops when the service would have stopped it."""
    every = list(asked(EMPTY, np.arange(0.0, 300.0, 0.5), setup))
    before = [one for one in every if one.decision != "stop"]
    stop = every[len(before)]
    assert len({one.stop_by_s for one in before}) == 1
    assert stop.as_of_s - 0.5 < before[0].stop_by_s <= stop.as_of_s


@pytest.mark.parametrize("name", ["sound alone", "steam alone", "duty-cycle", "paused"])
def test_a_lower_cap_never_gives_a_later_stop(name: str) -> None:
    cook = SOME[name]()
    stops = [first_stop(cook, Setup(max_heating_s=cap_s)).as_of_s for cap_s in (15.0, 60.0, 85.0, 110.0, 150.0, 480.0)]
    stops.append(first_stop(cook).as_of_s)
    assert stops == sorted(stops)
    assert stops[0] < stops[-1]


@settings(max_examples=60, deadline=None)
@given(names, st.floats(60.0, 160.0), st.floats(0.5, 9.0), st.floats(1.0, 3.0))
def test_a_longer_gap_never_brings_the_forecast_forward(name: str, as_of_s: float, gap_s: float, factor: float) -> None:
    cook = SOME[name]()
    shorter = ask(cook, as_of_s, Setup(gap_s=gap_s)).remaining
    longer = ask(cook, as_of_s, Setup(gap_s=min(factor * gap_s, 10.0))).remaining
    assert (shorter is None) == (longer is None)
    if shorter is not None and longer is not None:
        assert longer.estimate_s >= shorter.estimate_s - 0.05


@settings(max_examples=40, deadline=None)
@given(names, st.floats(60.0, 160.0), st.floats(50.0, 97.0), st.floats(50.0, 97.0))
def test_a_wider_interval_holds_the_narrower_one(name: str, as_of_s: float, one_pct: float, other_pct: float) -> None:
    cook = SOME[name]()
    low, high = (
        decide(
            programme=POPCORN,
            setup=NOTHING_SAID,
            cook=cook,
            as_of_ms=round(as_of_s * 1000),
            interval_pct=pct,
        ).remaining
        for pct in sorted((one_pct, other_pct))
    )
    if low is not None and high is not None and low.high_s > 0.0 < high.high_s:
        assert high.low_s <= low.low_s + TINY_S
        assert high.high_s >= low.high_s - TINY_S
        assert high.estimate_s == pytest.approx(low.estimate_s)


# Off is not silence


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 5), st.integers(85_000, 120_000), st.integers(500, SHORT_MS), st.integers(1_000, 8_000))
def test_a_short_pause_changes_nothing_but_the_time(seed: int, pause_ms: int, lasts_ms: int, after_ms: int) -> None:
    """All that follows comes later by the pause: then the silence, the rate and what remains are what they would be."""
    pops_ms = np.rint(1000.0 * drawn_pops_s(420, 100.0, 14.0, seed=seed))
    straight = ask(Cook.of(pops_s=pops_ms / 1000.0), (pause_ms + after_ms) / 1000.0)
    moved_ms = np.where(pops_ms > pause_ms, pops_ms + lasts_ms, pops_ms)
    power = [(0.0, 1.0), (pause_ms / 1000.0, 0.0), ((pause_ms + lasts_ms) / 1000.0, 1.0)]
    paused = ask(Cook.of(pops_s=moved_ms / 1000.0, power=power), (pause_ms + lasts_ms + after_ms) / 1000.0)
    for number in ("pops", "silence_s", "rate_per_s"):
        assert told(paused, "acoustic")[number] == pytest.approx(told(straight, "acoustic")[number], abs=1e-6)
    assert straight.remaining is not None
    assert paused.remaining is not None
    assert paused.remaining.estimate_s == pytest.approx(straight.remaining.estimate_s, abs=0.01)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 5), st.floats(85.0, 118.0), st.floats(1.0, 3000.0))
def test_silence_does_not_count_while_the_magnetron_is_off(seed: int, pause_s: float, into_s: float) -> None:
    """But for the third of a second that the newest sound is given to arrive."""
    pops_s = drawn_pops_s(420, 100.0, 14.0, seed=seed)
    cook = Cook.of(pops_s=pops_s[pops_s <= pause_s], power=[(0.0, 1.0), (pause_s, 0.0)])
    before, during = ask(cook, pause_s), ask(cook, pause_s + into_s)
    silent_s = [told(one, "acoustic")["silence_s"] for one in (before, during)]
    assert silent_s[1] == pytest.approx(silent_s[0], abs=0.301)
    assert told(during, "acoustic")["status"] == "usable"
    assert during.decision != "stop"


# Anything at all


bursts = st.tuples(st.floats(0.0, 300.0), st.floats(0.001, 20.0), st.integers(0, 400)).map(
    lambda burst: [min(burst[0] + burst[1] * at / 100.0, 7200.0) for at in range(burst[2])]
)
climbs = st.tuples(st.floats(0.0, 200.0), st.floats(-3.0, 3.0), st.floats(0.0, 100.0), st.floats(-50.0, 300.0)).map(
    lambda climb: [(climb[0] + t, min(max(climb[2] + climb[1] * t, 0.0), 100.0), climb[3]) for t in range(60)]
)
piles = st.tuples(st.lists(any_readings, max_size=40), st.lists(bursts, max_size=4), st.lists(climbs, max_size=3))
all_settled = st.none() | st.builds(
    lambda as_of, stop: Settled(as_of_ms=as_of, stop_ms=stop, stop_rule=stop and "silence-heard", nudge_ms=None),
    st.integers(0, 7_200_000),
    st.none() | st.integers(1, 7_200_000),
)


def piled(pile: tuple[list[Reading], list[list[float]], list[list[tuple[float, float, float]]]]) -> Cook:
    loose, pops_s, rows = pile
    cook = cook_of(loose)
    for burst in pops_s:
        cook = cook.merged(Cook.of(pops_s=burst))
    for climb in rows:
        cook = cook.merged(Cook.of(humidity=climb))
    return cook


@settings(max_examples=200, deadline=None)
@given(piles, st.one_of(st.floats(0.0, 7200.0), st.floats(0.0, 300.0)), setups, all_settled, st.floats(50.0, 98.0))
def test_no_pile_of_readings_is_too_much(
    pile: Any, as_of_s: float, setup: Setup, settled: Settled | None, interval_pct: float
) -> None:
    cook = piled(pile)
    decision = decide(
        programme=POPCORN,
        setup=setup,
        cook=cook,
        as_of_ms=round(as_of_s * 1000),
        settled=settled,
        interval_pct=interval_pct,
    )
    check_answer(decision, cook, setup)


@pytest.mark.parametrize("as_of_s", [400.0, 1000.0, 2845.0, 7200.0])
def test_long_after_the_last_pop_no_kernel_is_left_and_not_a_rounding_less(as_of_s: float) -> None:
    """A burst within a tenth of a second and a pop before and after it, then nothing for up to two hours."""
    cook = Cook.of(pops_s=[250.0, *(293.0 + at / 100.0 for at in range(13)), 344.0])
    decision = ask(cook, as_of_s)
    check_answer(decision, cook, NOTHING_SAID)
    left = told(decision, "acoustic")["kernels_left"]
    assert 0.0 <= left["low"] <= left["estimate"] <= left["high"]


@pytest.mark.parametrize("name", SOME)
def test_answers_hold_plain_numbers_only(name: str) -> None:
    """Floats and whole numbers as JSON has them, not those of a numerical library that only look like them."""
    for as_of_s in (10.0, 90.0, 115.0):
        numbers = all_numbers(ask(SOME[name](), as_of_s))
        assert {type(number) for number in numbers} <= {float, int}
