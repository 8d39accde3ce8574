"""Whole reheats as a caller sees them: what is said when, and what is never said."""

from collections.abc import Callable

import numpy as np
import pytest

from service.readings.cook import Cook
from service.rules.decision import Setup
from service.units import saturation_pressure_pa
from tests.cooks import FloatArray, told
from tests.meals import FED, REHEAT, asked_of, codes, decided, meal, steaming_meal, stopped

STEAMS_S = 110.0
PLATE = meal(400.0, steams_s=STEAMS_S)


def test_a_plate_is_waited_for_then_stirred_then_announced_then_stopped() -> None:
    said: list[str] = []
    for decision in decided(PLATE, np.arange(1.0, 400.0)):
        if not said or codes(decision)[0] != said[-1]:
            said.append(codes(decision)[0])
        if decision.decision == "stop":
            break
    assert said == ["too-early-to-say", "steaming", "stir-or-turn", "steaming", "end-near", "core-safe"]


def test_the_nudge_comes_midway_between_steam_and_stop() -> None:
    every = list(decided(PLATE, np.arange(1.0, 400.0)))
    nudged = next(one.as_of_s for one in every if codes(one)[0] == "stir-or-turn")
    stop = next(one.as_of_s for one in every if one.decision == "stop")
    assert nudged == pytest.approx((STEAMS_S + stop) / 2.0, abs=6.0)


def test_a_lost_answer_gives_the_nudge_again_and_no_other_does() -> None:
    nudge = next(one for one in decided(PLATE, np.arange(1.0, 400.0)) if codes(one)[0] == "stir-or-turn")
    again = asked_of(PLATE, nudge.as_of_s)
    after = asked_of(PLATE, nudge.as_of_s + 1.0, settled=nudge.settled)
    assert codes(again) == codes(nudge)
    assert codes(after)[0] != "stir-or-turn"


def test_the_food_is_told_as_ranges_that_hold_what_it_is() -> None:
    moisture = told(asked_of(PLATE, 160.0, Setup(rated_w=900.0)), "moisture")
    for name in ("load_g", "start_c"):
        assert moisture[name]["low"] < moisture[name]["estimate"] < moisture[name]["high"]
    assert 0.0 <= moisture["liquid_share"] <= 1.0
    assert moisture["onset_s"] == pytest.approx(STEAMS_S, abs=7.0)
    assert moisture["released_g_s_m3"] > 0.0


def test_heat_put_in_is_told_where_the_rating_is_known() -> None:
    assert told(asked_of(PLATE, 100.0), "heating")["heat_in_kj"] is None
    known = told(asked_of(PLATE, 100.0, Setup(rated_w=1000.0, load_g=400.0)), "heating")["heat_in_kj"]
    assert 40.0 < known < 100.0


@pytest.mark.parametrize("setup", [Setup(), Setup(sensors=("acoustic", "moisture"))])
def test_sound_is_ignored_and_said_to_be(setup: Setup) -> None:
    loud = meal(400.0, steams_s=STEAMS_S, pops_s=(20.0, 30.0))
    cook = loud if setup.sensors is None else PLATE
    answer = asked_of(cook, 60.0, setup)
    assert "sound-ignored" in codes(answer)
    assert any("Sound is ignored" in caution for caution in answer.cautions)
    assert told(answer, "acoustic")["status"] == "absent"
    assert told(answer, "acoustic")["silence_s"] is None
    assert "sound-ignored" not in codes(asked_of(PLATE, 60.0))


def test_nothing_is_foretold_before_the_steam() -> None:
    answer = asked_of(PLATE, 90.0)
    assert answer.remaining is None
    assert told(answer, "moisture")["load_g"] is None


def test_warming_air_is_no_steam() -> None:
    t_s = np.arange(0.0, 300.0)
    air_c = np.interp(t_s, [0.0, 120.0], [20.0, 60.0])
    rh_pct = 50.0 * saturation_pressure_pa(20.0) / saturation_pressure_pa(air_c)
    answer = asked_of(Cook.of(humidity=np.column_stack((t_s, rh_pct, air_c)).tolist()), 250.0)
    assert codes(answer) == ["too-early-to-say"]


def test_heating_again_after_a_stop_is_warned_of_and_ends_by_itself() -> None:
    last = stopped(PLATE)
    restarted = PLATE.merged(Cook.of(restarts_s=[last.as_of_s + 5.0]))
    answers = [asked_of(restarted, last.as_of_s + 5.0 + s, settled=last.settled) for s in (10.0, 59.0, 61.0)]
    assert [codes(one)[0] for one in answers] == ["top-up-running", "top-up-running", "top-up-over"]
    assert REHEAT.number("top_up_heating_s") == 60.0


def test_a_bigger_load_in_a_weaker_oven_is_waited_for_longer_before_it_ends_unmeasured() -> None:
    deaf = Cook.of(power=[(0.0, 1.0)])
    light, heavy = (stopped(deaf, Setup(rated_w=one, load_g=load)) for one, load in ((1000.0, 200.0), (600.0, 500.0)))
    assert codes(light) == codes(heavy) == ["nothing-measured", "not-measured-safe"]
    assert heavy.as_of_s > 2.0 * light.as_of_s


def test_a_sensor_that_lives_is_waited_for_longer_than_a_dead_one() -> None:
    dry = Cook.of(humidity=steaming_meal(900.0, steams_s=5000.0).tolist())
    last = stopped(dry)
    assert codes(last) == ["nothing-happened", "not-measured-safe"]
    assert last.as_of_s > 2.0 * stopped(Cook.of(power=[(0.0, 1.0)])).as_of_s


def test_melting_ends_at_the_first_moisture_and_promises_nothing() -> None:
    last = stopped(PLATE, programme=FED["melting"])
    assert codes(last) == ["first-moisture"]
    assert STEAMS_S < last.as_of_s < STEAMS_S + 20.0
    assert any("makes nothing safe" in caution for caution in last.cautions)


PUFFS = {
    "a bad sample": lambda t_s: 40.0 * (t_s == 35.0),
    "some seconds": lambda t_s: 40.0 * ((t_s >= 30.0) & (t_s < 34.0)),
    "a kettle": lambda t_s: 15.0 * np.exp(-np.maximum(t_s - 35.0, 0.0) / 8.0) * (t_s >= 35.0),
}


@pytest.mark.parametrize("puff", PUFFS.values(), ids=PUFFS.keys())
def test_vapour_that_is_soon_gone_makes_no_food_safe(puff: Callable[[FloatArray], FloatArray]) -> None:
    """The core is called safe when it would be without the puff, and never while only the puff was seen."""
    rows = steaming_meal(400.0, steams_s=STEAMS_S)
    puffed = rows.copy()
    # At 35 degrees the air holds 0.396 g/m3 a per cent (service.units).
    puffed[:, 1] = np.minimum(rows[:, 1] + puff(rows[:, 0]) / 0.396, 100.0)
    undisturbed, disturbed = (
        next(one for one in decided(Cook.of(humidity=some.tolist()), np.arange(1.0, 400.0)) if one.decision == "stop")
        for some in (rows, puffed)
    )
    assert codes(disturbed)[0] == codes(undisturbed)[0] == "core-safe"
    assert disturbed.as_of_s == pytest.approx(undisturbed.as_of_s, abs=8.0)


def test_samples_five_seconds_apart_do() -> None:
    rows = steaming_meal(400.0, steams_s=STEAMS_S)
    every, some = (
        next(one for one in decided(Cook.of(humidity=part.tolist()), np.arange(1.0, 400.0)) if one.decision == "stop")
        for part in (rows, rows[::5])
    )
    assert codes(some)[0] == "core-safe"
    assert some.as_of_s == pytest.approx(every.as_of_s, abs=12.0)
