"""Laws of programmes that the steam alone leads: what must hold of every answer, whatever was read and however it came."""

from dataclasses import replace
from math import inf, isfinite
from random import Random

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from service.readings.cook import EMPTY, Cook
from service.readings.heating import HeatingClock
from service.rules.decision import Decision, Setup
from service.rules.food import NUDGE
from tests.laws.cooks import Reading, cook_of
from tests.laws.cooks import readings as any_readings
from tests.laws.test_decision_laws import all_numbers, scattered
from tests.meals import FED, REHEAT, asked_of, codes, decided, meal, steaming_meal, stopped

TINY_S = 1e-6
SOME = {
    "meal": lambda: meal(260.0, steams_s=110.0),
    "small": lambda: meal(160.0, steams_s=55.0, seed=3),
    "paused": lambda: meal(260.0, steams_s=120.0, power=[(0.0, 1.0), (60.0, 0.0), (75.0, 1.0)]),
    "pulsed": lambda: meal(300.0, steams_s=160.0, power=[(10.0 * k, float(k % 2 == 0)) for k in range(30)]),
    "noisy kitchen": lambda: meal(260.0, steams_s=110.0, pops_s=tuple(np.linspace(5.0, 240.0, 200).tolist())),
    "soup": lambda: Cook.of(humidity=steaming_meal(260.0, steams_s=110.0, grows_s=7.0).tolist()),
    "no steam": lambda: meal(300.0, steams_s=900.0),
    "no sensor": lambda: EMPTY,
}
names = st.sampled_from(sorted(SOME))
moments_s = st.one_of(st.floats(0.0, 300.0), st.integers(40, 220).map(float))
programmes = st.sampled_from(sorted(FED))
setups = st.builds(
    Setup,
    rated_w=st.none() | st.floats(100.0, 3000.0),
    load_g=st.none() | st.floats(5.0, 5000.0),
    sensors=st.sampled_from([None, ("acoustic", "moisture"), ("moisture",)]),
    max_heating_s=st.none() | st.floats(10.0, 7200.0),
    site_altitude_m=st.none() | st.floats(-500.0, 6000.0),
    safe_core_c=st.none() | st.floats(74.0, 100.0),
)


def check(decision: Decision, cook: Cook, setup: Setup, cap_s: float) -> None:
    """What holds of any answer at all."""
    assert all(isfinite(number) for number in all_numbers(decision))
    assert decision.reasons
    as_of_s, ahead = decision.as_of_s, decision.remaining
    if decision.decision == "stop":
        assert ahead is not None
        assert ahead.high_s == 0.0
        assert 0.0 <= decision.stop_by_s <= as_of_s
        return
    heated_s = float(HeatingClock.of(cook.until(round(as_of_s * 1000)), round(as_of_s * 1000)).heating_s(as_of_s))
    most_s = min(cap_s, setup.max_heating_s or inf) - heated_s if ahead is None else ahead.high_s
    assert as_of_s <= decision.stop_by_s <= as_of_s + max(most_s, 0.0) + TINY_S
    assert ahead is None or 0.0 <= ahead.low_s <= ahead.estimate_s <= ahead.high_s


@settings(max_examples=8, deadline=None)
@given(names, moments_s, st.randoms(use_true_random=False))
def test_order_repetition_and_batches_do_not_matter(name: str, as_of_s: float, chance: Random) -> None:
    cook = SOME[name]()
    assert asked_of(scattered(cook, chance), as_of_s) == asked_of(cook, as_of_s)


@settings(max_examples=40, deadline=None)
@given(names, moments_s, setups, programmes)
def test_every_answer_is_whole_and_the_same_when_asked_again(
    name: str, as_of_s: float, setup: Setup, programme: str
) -> None:
    cook, fed = SOME[name](), FED[programme]
    decision = asked_of(cook, as_of_s, setup, programme=fed)
    check(decision, cook, setup, fed.number("max_heating_s"))
    assert asked_of(cook, as_of_s, setup, programme=fed) == decision


@settings(max_examples=50, deadline=None)
@given(st.lists(any_readings, max_size=60), st.floats(0.0, 7200.0), setups, programmes)
def test_whatever_is_read_there_is_an_answer(
    batch: list[Reading], as_of_s: float, setup: Setup, programme: str
) -> None:
    cook, fed = cook_of(batch), FED[programme]
    check(asked_of(cook, as_of_s, setup, programme=fed), cook, setup, fed.number("max_heating_s"))


@pytest.mark.parametrize("name", SOME)
def test_a_stop_holds_and_the_nudge_is_given_once(name: str) -> None:
    verdicts = list(decided(SOME[name](), np.arange(1.0, 640.0, 3.0)))
    words = "".join(decision.decision[0] for decision in verdicts)
    assert "s" in words
    assert set(words[words.index("s") :]) == {"s"}
    assert sum(NUDGE in codes(decision) for decision in verdicts) <= 1


@settings(max_examples=15, deadline=None)
@given(names, moments_s)
def test_sound_changes_nothing(name: str, as_of_s: float) -> None:
    cook = SOME[name]()
    quiet = replace(cook, pops_ms=EMPTY.pops_ms)
    loud, silent = asked_of(cook, as_of_s), asked_of(quiet, as_of_s)
    assert (loud.decision, loud.remaining, loud.stop_by_s) == (silent.decision, silent.remaining, silent.stop_by_s)
    assert loud.evidence["moisture"] == silent.evidence["moisture"]


@pytest.mark.parametrize("name", ["no steam", "no sensor"])
@pytest.mark.parametrize("programme", sorted(FED))
def test_without_steam_nothing_is_ever_said_to_be_done(name: str, programme: str) -> None:
    last = stopped(SOME[name](), programme=FED[programme])
    assert not {"core-safe", "first-moisture"} & set(codes(last))
    assert ("not-measured-safe" in codes(last)) == (programme != "melting")


@settings(max_examples=10, deadline=None)
@given(st.floats(40.0, 250.0), st.floats(74.0, 95.0), st.floats(0.0, 10.0), st.floats(3.0, 30.0))
@example(195.5, 79.625, 0.125, 18.0)
@example(110.0, 74.0, 10.0, 7.0)
def test_a_hotter_core_is_never_reached_sooner(steams_s: float, core_c: float, more_k: float, grows_s: float) -> None:
    cook = Cook.of(humidity=steaming_meal(steams_s + 40.0, steams_s=steams_s, grows_s=grows_s).tolist())
    cooler, hotter = (
        asked_of(cook, steams_s + 40.0, Setup(safe_core_c=min(one, 98.0))).remaining
        for one in (core_c, core_c + more_k)
    )
    if cooler is not None and hotter is not None:
        assert hotter.estimate_s >= cooler.estimate_s - TINY_S


@pytest.mark.parametrize("steams_s", [60.0, 110.0, 200.0])
def test_the_stop_comes_after_the_steam_and_moves_with_it(steams_s: float) -> None:
    last = stopped(meal(700.0, steams_s=steams_s))
    assert codes(last)[0] == "core-safe"
    assert 1.15 * steams_s < last.as_of_s < 2.0 * steams_s


def test_the_readings_after_the_moment_asked_about_do_not_count() -> None:
    rows = steaming_meal(300.0, steams_s=110.0)
    early, late = Cook.of(humidity=rows[:150].tolist()), Cook.of(humidity=rows.tolist())
    assert asked_of(early, 149.0) == asked_of(late, 149.0)
    assert asked_of(late, 149.0).remaining is not None
    assert REHEAT.number("nudge_share") > 0.0
