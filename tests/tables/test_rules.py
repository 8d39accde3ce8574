"""Each rule by itself: a situation in which it fires, one that falls just short, and which of them goes first."""

from dataclasses import replace
from typing import Any

import pytest

from service.evidence.acoustic import Acoustic
from service.evidence.moisture import NOTHING, Moisture
from service.evidence.popping import PopLikelihood
from service.evidence.steam import SteamOnset
from service.forecast.outlook import Food
from service.readings.settled import Settled
from service.rules.decision import Remaining
from service.rules.limits import Limits
from service.rules.situation import Situation
from service.rules.table import RULES, judge

LIMITS = Limits(
    gap_s=2.0,
    cap_s=480.0,
    blind_s=100.0,
    strays_s=100.0,
    waiting_s=300.0,
    hold_off_s=20.0,
    warn_lead_s=12.0,
    decision_lead_s=0.5,
    top_up_s=30.0,
    top_up_least_s=4.0,
    stop_least_pops=40.0,
    stop_lull_s=15.0,
    pops_on_count=2.5,
    silence_share=0.6,
    steam_lasts_s=0.0,
    post_least_s=0.5,
    post_typical_s=1.0,
    post_most_s=2.0,
)
UNHEARD = Acoustic(
    status="waiting", pops=0, rate_per_s=0.0, silence_s=60.0, listened_until_s=60.0, dead_time_s=0.04, likelihood=None
)
STEAM = SteamOnset(
    baseline_g_m3=9.0,
    noise_g_m3=0.1,
    alarm_s=82.0,
    onset_s=78.0,
    slope_g_m3_s=4.0,
    creeps=False,
)
STEAMY = Moisture(status="usable", vapour_g_m3=25.0, saturated=False, steam=STEAM)
DRY = Moisture(status="usable", vapour_g_m3=9.0, saturated=False, steam=STEAM._replace(alarm_s=None, onset_s=None))
STUCK = Moisture(status="suspect", vapour_g_m3=9.0, saturated=False, steam=None)
MEAL = Food(core_c=74.0, steaming_s=None, nudge_share=0.5, sound_ignored=False)
STEAMING_MEAL = replace(MEAL, steaming_s=20.0)
MELT = replace(MEAL, core_c=None, nudge_share=0.0)
NUDGED = Settled(as_of_ms=55_000, stop_ms=None, stop_rule=None, nudge_ms=55_000)
STOPPED = Settled(as_of_ms=120_000, stop_ms=120_000, stop_rule="forecast-reached", nudge_ms=None)
QUIET = Situation(
    as_of_s=60.0,
    heating_s=60.0,
    is_on=True,
    settled=None,
    restarted_s=None,
    acoustic=UNHEARD,
    moisture=NOTHING,
    remaining=None,
    led_by=None,
    disagree=False,
    cap_in_s=420.0,
    limits=LIMITS,
)


def ear(status: Any = "usable", *, silence_s: float = 0.4, pops: int = 200) -> Acoustic:
    return UNHEARD._replace(status=status, pops=pops, rate_per_s=3.0, silence_s=silence_s)


def ahead(estimate_s: float, *, low_s: float = 0.0) -> Remaining:
    return Remaining(estimate_s=estimate_s, low_s=low_s, high_s=estimate_s + 10.0, interval_pct=80.0)


def situation(**changes: Any) -> Situation:
    """One minute into a cook in which nothing was heard, sensed or settled, but for the changes."""
    return QUIET._replace(**changes)


# Code of the rule: what makes it fire, and what falls just short of that.
CASES: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "stop-already-given": ({"settled": STOPPED}, {"settled": STOPPED, "restarted_s": 0.0}),
    "heating-cap-reached": ({"heating_s": 480.0}, {"heating_s": 479.9}),
    "top-up-over": (
        {"settled": STOPPED, "restarted_s": 30.0},
        {"settled": STOPPED, "restarted_s": 29.9},
    ),
    "top-up-silent": (
        {"settled": STOPPED, "restarted_s": 6.0, "acoustic": ear(silence_s=6.0)},
        {"settled": STOPPED, "restarted_s": 5.9, "acoustic": ear(silence_s=40.0)},
    ),
    "nothing-measured": ({"heating_s": 100.0}, {"heating_s": 100.0, "acoustic": ear("waiting", pops=1)}),
    "nothing-happened": (
        {"heating_s": 300.0, "moisture": DRY},
        {"heating_s": 299.9, "moisture": DRY},
    ),
    "forecast-reached": (
        {"acoustic": ear(), "remaining": ahead(0.5), "led_by": "sound"},
        {"acoustic": ear(), "remaining": ahead(0.6), "led_by": "sound"},
    ),
    "silence-heard": (
        {"acoustic": ear(silence_s=2.0), "remaining": ahead(5.0), "led_by": "sound"},
        {"acoustic": ear(silence_s=2.0), "remaining": ahead(5.0, low_s=0.1), "led_by": "sound"},
    ),
    "steam-clock-reached": (
        {"moisture": STEAMY, "remaining": ahead(0.0), "led_by": "steam"},
        {"moisture": STEAMY, "remaining": ahead(0.0), "led_by": "both"},
    ),
    "core-safe": (
        {"food": STEAMING_MEAL, "moisture": STEAMY, "remaining": ahead(0.5), "led_by": "steam"},
        {"food": STEAMING_MEAL, "moisture": STEAMY, "remaining": ahead(0.6), "led_by": "steam"},
    ),
    "first-moisture": (
        {"food": MELT, "moisture": STEAMY, "remaining": ahead(0.0), "led_by": "steam"},
        {"food": MEAL, "moisture": STEAMY, "remaining": ahead(0.0), "led_by": "steam"},
    ),
    "not-measured-safe": ({"food": MEAL, "heating_s": 100.0}, {"food": MELT, "heating_s": 100.0}),
    "top-up-running": ({"settled": STOPPED, "restarted_s": 0.0}, {"settled": STOPPED}),
    "stir-or-turn": (
        {"food": STEAMING_MEAL, "moisture": STEAMY, "remaining": ahead(20.0), "led_by": "steam"},
        {"food": STEAMING_MEAL, "moisture": STEAMY, "remaining": ahead(20.1), "led_by": "steam"},
    ),
    "end-near": (
        {"acoustic": ear(), "remaining": ahead(12.0), "led_by": "sound"},
        {"acoustic": ear(), "remaining": ahead(12.1), "led_by": "sound"},
    ),
    "blind-end-near": ({"heating_s": 88.0}, {"heating_s": 87.9}),
    "sensors-disagree": ({"disagree": True}, {"disagree": False}),
    "microphone-suspect": ({"acoustic": ear("suspect")}, {"acoustic": ear("usable", silence_s=50.0)}),
    "humidity-suspect": ({"moisture": STUCK}, {"moisture": STUCK, "acoustic": ear()}),
    "heating-off": ({"is_on": False}, {"is_on": True}),
    "popping": ({"acoustic": ear()}, {"acoustic": ear("waiting", pops=7)}),
    "steaming": ({"moisture": STEAMY}, {"moisture": DRY}),
    "sound-ignored": ({"food": replace(MEAL, sound_ignored=True)}, {"food": MEAL}),
    "too-early-to-say": ({"moisture": DRY}, {"moisture": STEAMY}),
}
BY_CODE = {rule.code: rule for rule in RULES}


def codes(now: Situation) -> list[str]:
    return [reason.rule for reason in judge(now)[1]]


def test_every_rule_has_its_cases() -> None:
    assert CASES.keys() == BY_CODE.keys()


@pytest.mark.parametrize("code", CASES)
def test_rule_fires_where_it_should_and_not_just_short_of_it(code: str) -> None:
    fires, near_miss = (situation(**changes) for changes in CASES[code])
    assert BY_CODE[code].asks(fires) is not None
    assert BY_CODE[code].asks(near_miss) is None


@pytest.mark.parametrize("code", CASES)
def test_where_a_rule_fires_the_verdict_is_as_grave_as_it_asks_for(code: str) -> None:
    grave = ["continue", "warn", "stop"]
    verdict, reasons = judge(situation(**CASES[code][0]))
    assert grave.index(verdict) >= grave.index(BY_CODE[code].verdict)
    assert code in [reason.rule for reason in reasons] or verdict != BY_CODE[code].verdict


@pytest.mark.parametrize("changes", [fires for fires, _ in CASES.values()])
def test_reasons_are_all_of_the_level_that_decided(changes: dict[str, Any]) -> None:
    verdict, reasons = judge(situation(**changes))
    assert {BY_CODE[reason.rule].verdict for reason in reasons} == {verdict}


def test_every_reason_of_the_level_is_told_in_the_order_of_the_table() -> None:
    everything = situation(heating_s=480.0, acoustic=ear(silence_s=2.5), remaining=ahead(0.0), led_by="both")
    assert judge(everything)[0] == "stop"
    assert codes(everything) == ["heating-cap-reached", "forecast-reached", "silence-heard"]


# What comes first, and then what would decide without it.
PRECEDENCE = [
    ("stop-already-given", {"settled": STOPPED, "heating_s": 480.0}),
    ("heating-cap-reached", {"heating_s": 480.0, "remaining": ahead(0.0), "led_by": "sound", "acoustic": ear()}),
    ("heating-cap-reached", {"heating_s": 480.0, "remaining": ahead(40.0), "led_by": "sound", "disagree": True}),
    ("nothing-happened", {"heating_s": 300.0, "acoustic": ear("suspect", pops=3)}),
    ("forecast-reached", {"remaining": ahead(0.0), "led_by": "both", "acoustic": ear(), "disagree": True}),
    (
        "steam-clock-reached",
        {"remaining": ahead(0.0), "led_by": "steam", "moisture": STEAMY, "acoustic": ear("suspect")},
    ),
    ("top-up-over", {"settled": STOPPED, "restarted_s": 31.0, "acoustic": ear(), "is_on": False}),
    ("top-up-running", {"settled": STOPPED, "restarted_s": 2.0, "remaining": ahead(0.0), "acoustic": ear()}),
    ("end-near", {"remaining": ahead(10.0), "led_by": "sound", "acoustic": ear(), "is_on": False}),
    ("microphone-suspect", {"acoustic": ear("suspect"), "is_on": False}),
    ("heating-off", {"acoustic": ear(), "is_on": False, "remaining": ahead(50.0), "led_by": "sound"}),
]


@pytest.mark.parametrize(("code", "changes"), PRECEDENCE)
def test_caps_go_before_evidence_and_evidence_before_warnings(code: str, changes: dict[str, Any]) -> None:
    assert codes(situation(**changes))[0] == code


def test_stops_stand_before_warnings_and_warnings_before_the_rest() -> None:
    order = [("stop", "warn", "continue").index(rule.verdict) for rule in RULES]
    assert order == sorted(order)


@pytest.mark.parametrize("heating_s", [0.0, 10.0, 19.9])
def test_no_evidence_ends_a_cook_in_its_first_seconds(heating_s: float) -> None:
    done = situation(heating_s=heating_s, acoustic=ear(silence_s=9.0), remaining=ahead(0.0), led_by="sound")
    assert judge(done)[0] != "stop"
    assert judge(done._replace(heating_s=20.0))[0] == "stop"


@pytest.mark.parametrize("status", ["absent", "waiting", "suspect"])
def test_a_silence_that_no_good_microphone_heard_is_no_silence(status: str) -> None:
    quiet = {"remaining": ahead(5.0), "led_by": "steam"}
    assert "silence-heard" not in codes(situation(acoustic=ear(status, silence_s=30.0), **quiet))
    assert "silence-heard" in codes(situation(acoustic=ear("usable", silence_s=30.0), **quiet))


@pytest.mark.parametrize(
    ("heard_share", "silence_s", "is_heard"),
    [(None, 2.0, True), (0.6, 2.0, True), (0.3, 2.0, False), (0.3, 3.9, False), (0.3, 4.0, True), (0.9, 1.9, False)],
)
def test_a_microphone_that_hears_few_pops_must_hear_a_longer_silence(
    heard_share: float | None, silence_s: float, *, is_heard: bool
) -> None:
    quiet = situation(acoustic=ear(silence_s=silence_s), remaining=ahead(5.0), led_by="sound", heard_share=heard_share)
    assert ("silence-heard" in codes(quiet)) == is_heard


@pytest.mark.parametrize(
    ("pops", "silence_s", "led_by", "is_the_end"),
    [
        pytest.param(39, 3.0, "sound", False, id="a lull among the first pops"),
        pytest.param(40, 3.0, "sound", True, id="enough pops"),
        pytest.param(39, 14.9, "sound", False, id="a lull that is long"),
        pytest.param(39, 15.0, "sound", True, id="a lull too long for one"),
        pytest.param(39, 3.0, "both", True, id="few pops, but steam has come"),
    ],
)
@pytest.mark.parametrize("code", ["forecast-reached", "silence-heard"])
def test_few_pops_end_no_cook_by_sound_alone_before_a_long_lull(
    code: str, pops: int, silence_s: float, led_by: str, *, is_the_end: bool
) -> None:
    heard = ear(silence_s=silence_s, pops=pops)
    assert (code in codes(situation(acoustic=heard, remaining=ahead(0.0), led_by=led_by))) == is_the_end


@pytest.mark.parametrize(
    ("rate_per_s", "moisture", "heard_share", "ends"),
    [
        pytest.param(1.3, DRY, None, False, id="it pops on, and no steam was seen"),
        pytest.param(1.2, DRY, None, True, id="the pops have thinned"),
        pytest.param(1.2, DRY, 0.8, False, id="but not by a microphone that hears fewer"),
        pytest.param(1.3, STEAMY, None, True, id="steam was seen"),
        pytest.param(1.3, STUCK, None, True, id="the humidity sensor has failed"),
        pytest.param(1.3, NOTHING, None, True, id="there is none"),
    ],
)
def test_no_forecast_ends_a_bag_that_pops_on_and_has_not_been_seen_to_open(
    rate_per_s: float, moisture: Moisture, heard_share: float | None, ends: bool
) -> None:
    now = situation(
        acoustic=ear()._replace(rate_per_s=rate_per_s),
        moisture=moisture,
        heard_share=heard_share,
        remaining=ahead(0.0, low_s=0.0),
        led_by="sound",
    )
    assert ("forecast-reached" in codes(now)) == ends


def test_the_sensor_that_is_followed_is_named_when_two_disagree() -> None:
    def said(**changes: Any) -> str:
        return judge(situation(disagree=True, **changes))[1][0].says

    assert "the sound is followed" in said(acoustic=ear(), led_by="sound")
    assert "the steam is followed" in said(acoustic=ear("suspect"), led_by="steam")


@pytest.mark.parametrize("status", ["absent", "waiting", "usable", "suspect"])
@pytest.mark.parametrize("moisture", [NOTHING, DRY, STEAMY, STUCK])
@pytest.mark.parametrize("is_on", [True, False])
def test_there_is_always_a_reason(status: str, moisture: Moisture, is_on: bool) -> None:
    for remaining in (None, ahead(90.0, low_s=60.0)):
        assert codes(situation(acoustic=ear(status), moisture=moisture, is_on=is_on, remaining=remaining))


def test_codes_are_unique_slugs() -> None:
    assert len(BY_CODE) == len(RULES)
    for code in BY_CODE:
        assert all(word.isascii() and word.islower() and word.isalpha() for word in code.split("-")), code


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.code)
def test_every_rule_means_one_sentence_that_nobody_else_means(rule: Any) -> None:
    assert rule.means[0].isupper()
    assert rule.means.endswith(".")
    assert ". " not in rule.means
    assert [other.code for other in RULES if other.means == rule.means] == [rule.code]


@pytest.mark.parametrize("code", CASES)
def test_what_a_rule_says_is_a_sentence_with_a_unit_beside_every_number(code: str) -> None:
    said = BY_CODE[code].asks(situation(**CASES[code][0]))
    assert said is not None
    assert said.says[0].isupper()
    assert said.says.endswith(".")
    assert (said.unit is None) == (said.value is None)
    assert said.limit is None or said.value is not None


def test_a_stop_that_holds_is_told_alone_with_the_rule_that_gave_it() -> None:
    """Sensors and clocks that go on after a stop speak of a cook that is over."""
    for later in CASES.values():
        verdict, reasons = judge(situation(**later[0] | {"settled": STOPPED, "restarted_s": None}))
        assert (verdict, [reason.rule for reason in reasons]) == ("stop", ["stop-already-given"])
        assert "forecast-reached" in reasons[0].says


HEARD = PopLikelihood(slice(0, 1), None, None, None, None, None)  # type: ignore[arg-type]
GONE_DEAF = ear("suspect", silence_s=30.0)._replace(likelihood=HEARD)


# What is said must be so at that moment: the rule, the situation, words that belong there and words that do not.
TRUE_OF_THE_MOMENT = [
    pytest.param("forecast-reached", {"acoustic": ear(), "remaining": ahead(0.0), "led_by": "sound"},
                 "have thinned", "failed", id="pops that are heard thin out"),
    pytest.param("forecast-reached", {"acoustic": GONE_DEAF, "remaining": ahead(0.0), "led_by": "both"},
                 "before it failed", "have thinned", id="nobody hears them thin out through a dead microphone"),
    pytest.param("microphone-suspect", {"acoustic": GONE_DEAF, "remaining": ahead(20.0), "led_by": "sound"},
                 "what it heard before", "heard no popping", id="a microphone that has died"),
    pytest.param("microphone-suspect", {"acoustic": GONE_DEAF}, "they were no pops", "still counts",
                 id="a few sounds that nothing came after"),
    pytest.param("microphone-suspect", {"acoustic": ear("suspect", pops=0), "moisture": STEAMY}, "heard no popping",
                 "before", id="a microphone that never heard"),
    pytest.param("popping", {"acoustic": ear()}, "is popping", "was", id="it pops"),
    pytest.param("popping", {"acoustic": ear(pops=9)._replace(rate_per_s=0.0)}, "not in the last seconds", "is popping",
                 id="a run of strays is over"),
    pytest.param("popping", {"acoustic": ear(), "is_on": False}, "was popping", "is popping", id="it cools"),
    pytest.param("top-up-running", {"settled": STOPPED, "restarted_s": 2.0}, "Heating again", "off", id="on again"),
    pytest.param("top-up-running", {"settled": STOPPED, "restarted_s": 2.0, "is_on": False}, "is off", "Heating again",
                 id="restarted, and paused"),
    pytest.param("end-near", {"acoustic": ear(), "remaining": ahead(9.0), "led_by": "sound"}, "to taste", "allowed",
                 id="the end itself is near"),
    pytest.param("end-near", {"acoustic": ear(), "remaining": ahead(9.0), "led_by": "sound", "cap_in_s": 8.0},
                 "allowed", "to taste", id="the cap is nearer"),
    pytest.param("blind-end-near", {"heating_s": 88.0}, "No sensor", "steam", id="nothing lives"),
    pytest.param("blind-end-near", {"heating_s": 288.0, "moisture": DRY}, "Neither popping nor steam", "No sensor",
                 id="a sensor lives, and waits"),
    pytest.param("blind-end-near", {"heating_s": 288.0, "moisture": DRY, "food": MEAL}, "No steam", "popping",
                 id="food does not steam"),
    pytest.param("blind-end-near", {"heating_s": 468.0, "moisture": STEAMY, "food": STEAMING_MEAL}, "Nothing tells",
                 "No steam", id="food steams, and nothing can be foretold of it"),
    pytest.param("core-safe", {"food": replace(STEAMING_MEAL, core_c=80.0), "moisture": STEAMY,
                               "remaining": ahead(0.0), "led_by": "steam"}, "80 degC", "74", id="hotter was asked for"),
]  # fmt: skip


@pytest.mark.parametrize(("code", "changes", "says", "never_says"), TRUE_OF_THE_MOMENT)
def test_what_is_said_is_true_of_the_moment(code: str, changes: dict[str, Any], says: str, never_says: str) -> None:
    said = BY_CODE[code].asks(situation(**changes))
    assert said is not None
    assert says in said.says
    assert never_says not in said.says


@pytest.mark.parametrize(
    ("changes", "near_miss"),
    [
        pytest.param({"remaining": ahead(60.0), "led_by": "sound", "acoustic": ear(), "cap_in_s": 12.0},
                     {"cap_in_s": 12.1}, id="the cap, where the end is far"),
        pytest.param({"heating_s": 288.0, "moisture": DRY}, {"heating_s": 287.9}, id="a sensor that lives and says nothing"),
        pytest.param({"heating_s": 468.0, "moisture": STEAMY, "food": STEAMING_MEAL}, {"heating_s": 467.9},
                     id="food of which nothing is foretold"),
    ],
)  # fmt: skip
def test_a_person_is_called_before_any_cap_ends_a_cook(changes: dict[str, Any], near_miss: dict[str, Any]) -> None:
    assert judge(situation(**changes))[0] == "warn"
    assert judge(situation(**changes | near_miss))[0] == "continue"


SOON_DONE: dict[str, Any] = {"moisture": STEAMY, "remaining": ahead(0.0), "led_by": "steam"}
CAPS = {"heating-cap-reached": {"heating_s": 480.0}, "nothing-measured": {"heating_s": 100.0},
        "nothing-happened": {"heating_s": 300.0, "moisture": DRY}}  # fmt: skip


@pytest.mark.parametrize("code", CAPS)
def test_food_that_ends_at_a_cap_is_not_said_to_be_safe(code: str) -> None:
    unfed = codes(situation(**CAPS[code]))
    assert unfed[0] == code
    assert codes(situation(food=MEAL, **CAPS[code])) == [*unfed, "not-measured-safe"]
    assert codes(situation(food=MELT, **CAPS[code])) == unfed


def test_food_that_steams_but_is_not_done_at_its_cap_is_not_said_to_be_safe() -> None:
    early: dict[str, Any] = {**SOON_DONE, "remaining": ahead(30.0), "heating_s": 480.0}
    assert codes(situation(food=STEAMING_MEAL, **early)) == ["heating-cap-reached", "not-measured-safe"]
    assert codes(situation(food=STEAMING_MEAL, **{**early, "remaining": ahead(0.0)})) == [
        "heating-cap-reached",
        "core-safe",
    ]


def test_the_nudge_is_given_once_in_a_cook() -> None:
    half = {"food": STEAMING_MEAL, "moisture": STEAMY, "remaining": ahead(15.0), "led_by": "steam"}
    assert codes(situation(**half)) == ["stir-or-turn"]
    assert codes(situation(settled=NUDGED, **half)) == ["steaming"]
    assert codes(situation(**{**half, "food": replace(STEAMING_MEAL, nudge_share=0.0)})) == ["steaming"]


def test_what_is_heard_is_no_sign_of_life_of_food() -> None:
    loud = ear("absent", pops=300)
    assert codes(situation(food=MEAL, acoustic=loud, heating_s=100.0))[0] == "nothing-measured"
    assert codes(situation(food=MEAL, acoustic=loud, heating_s=100.0, moisture=DRY))[0] == "too-early-to-say"
    assert codes(situation(acoustic=ear("waiting", pops=1), heating_s=100.0))[0] == "too-early-to-say"


@pytest.mark.parametrize("changes", [fires for code, (fires, _) in CASES.items() if "food" not in fires])
def test_food_is_never_ended_by_what_is_heard(changes: dict[str, Any]) -> None:
    heard = {"forecast-reached", "silence-heard", "steam-clock-reached"}
    heedless = UNHEARD._replace(status="absent", pops=300)
    quiet = situation(**changes | {"acoustic": heedless, "food": MEAL, "led_by": "steam"})
    assert not heard & set(codes(quiet))


@pytest.mark.parametrize("food", [MEAL, STEAMING_MEAL, MELT])
@pytest.mark.parametrize("moisture", [NOTHING, DRY, STEAMY, STUCK])
def test_there_is_always_a_reason_about_food_and_it_speaks_of_no_pops(food: Food, moisture: Moisture) -> None:
    for remaining in (None, ahead(90.0), ahead(5.0), ahead(0.0)):
        for heating_s in (60.0, 100.0, 300.0, 480.0):
            now = situation(food=food, moisture=moisture, remaining=remaining, heating_s=heating_s)
            said = [reason.says for reason in judge(now._replace(acoustic=UNHEARD._replace(status="absent")))[1]]
            assert said
            assert not [one for one in said if "pop" in one.lower() or "bag" in one or "kernel" in one]
