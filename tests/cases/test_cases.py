"""Golden cases, written as sentences: given what was read, asked when, then what is answered.

Each sentence below is a pattern with the one thing that it does. A sentence that no pattern knows is an error.
"""

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
import pytest

from service.readings.cook import EMPTY, Cook
from service.readings.settled import Settled
from service.rules.decision import Decision, Setup
from service.units import saturation_pressure_pa
from tests.cooks import NOTHING_SAID, FloatArray, ask, asked, drawn_pops_s, humidity_rows, steaming_rows, told

LONGEST_S = 490
SECONDS: FloatArray = np.arange(0.0, float(LONGEST_S))


@dataclass(frozen=True)
class Scene:
    """What is given: readings, what the caller knows, and what was decided before."""

    cook: Cook = EMPTY
    setup: Setup = NOTHING_SAID
    settled: Settled | None = None

    def read(self, **readings: Any) -> "Scene":
        return replace(self, cook=self.cook.merged(Cook.of(**readings)))

    def knowing(self, **known: Any) -> "Scene":
        return replace(self, setup=replace(self.setup, **known))


Given: TypeAlias = Callable[..., Scene]
Then: TypeAlias = Callable[..., bool]


def bag(scene: Scene, kernels: str, peak_s: str, spread_s: str, until_s: str | None = None) -> Scene:
    pops_s = drawn_pops_s(int(kernels), float(peak_s), float(spread_s), seed=2)
    return scene.read(pops_s=pops_s if until_s is None else pops_s[pops_s <= float(until_s)])


def clicks(scene: Scene, moments: str, last: str) -> Scene:
    return scene.read(pops_s=[float(moment) for moment in [*moments.split(", "), last]])


def steam(scene: Scene, released_s: str, lag_s: str) -> Scene:
    return scene.read(humidity=steaming_rows(LONGEST_S, released_s=float(released_s), lag_s=float(lag_s)))


def dry(scene: Scene) -> Scene:
    noise = np.random.default_rng(0).normal(0.0, 0.05, SECONDS.size)
    return scene.read(humidity=humidity_rows(SECONDS, 9.0 + noise))


def warming(scene: Scene, from_c: str, to_c: str, within_s: str) -> Scene:
    air_c = np.interp(SECONDS, [0.0, float(within_s)], [float(from_c), float(to_c)])
    rh_pct = 50.0 * saturation_pressure_pa(float(from_c)) / saturation_pressure_pa(air_c)
    return scene.read(humidity=np.column_stack((SECONDS, rh_pct, air_c)))


def stuck(scene: Scene, rh_pct: str) -> Scene:
    return scene.read(humidity=np.column_stack((SECONDS, np.full((SECONDS.size, 2), [float(rh_pct), 23.0]))))


def stopped(scene: Scene, at_s: str) -> Scene:
    at_ms = round(float(at_s) * 1000.0)
    return replace(scene, settled=Settled(as_of_ms=at_ms, stop_ms=at_ms, stop_rule="forecast-reached", nudge_ms=None))


N = r"([\d.]+)"
GIVEN: Mapping[str, Given] = {
    rf"{N} pops around {N} s, give or take {N} s(?:, until {N} s)?": bag,
    rf"pops at (.+) and {N} s": clicks,
    rf"steam from {N} s through a lag of {N} s": steam,
    "dry air": dry,
    rf"air that warms from {N} to {N} degrees within {N} s": warming,
    rf"a humidity sensor stuck at {N} %": stuck,
    rf"the power is off from {N} s": lambda scene, t: scene.read(power=[(0.0, 1.0), (float(t), 0.0)]),
    rf"the power is on from {N} s": lambda scene, t: scene.read(power=[(float(t), 1.0)]),
    "a microphone": lambda scene: scene.knowing(sensors=("acoustic", "moisture")),
    rf"an oven rated {N} W": lambda scene, watts: scene.knowing(rated_w=float(watts)),
    rf"a bag of {N} g": lambda scene, grams: scene.knowing(load_g=float(grams)),
    rf"a cap of {N} s": lambda scene, seconds: scene.knowing(max_heating_s=float(seconds)),
    rf"a silence of {N} s is wanted": lambda scene, seconds: scene.knowing(gap_s=float(seconds)),
    rf"it was stopped at {N} s": stopped,
    rf"it was restarted at {N} s": lambda scene, t: scene.read(restarts_s=[float(t)]),
}
SENSORS = {"microphone": "acoustic", "humidity sensor": "moisture"}
SLUG = r"([a-z-]+)"


def verdict(answer: Decision, said: str, rule: str | None = None) -> bool:
    return answer.decision == said and rule in (None, answer.reasons[0].rule)


def remain(answer: Decision, low_s: str, high_s: str) -> bool:
    return answer.remaining is not None and float(low_s) <= answer.remaining.estimate_s <= float(high_s)


def steam_began(answer: Decision, at_s: str) -> bool:
    onset_s = told(answer, "moisture")["onset_s"]
    return onset_s is not None and bool(abs(onset_s - float(at_s)) <= 1.5)


THEN: Mapping[str, Then] = {
    rf"(continue|warn|stop)(?:, because {SLUG})?": verdict,
    rf"because {SLUG}": lambda answer, rule: rule in [reason.rule for reason in answer.reasons],
    rf"between {N} and {N} s remain": remain,
    "no time remains": lambda answer: remain(answer, "0", "0"),
    "nothing is foretold": lambda answer: answer.remaining is None,
    rf"it is between {N} and {N} s": lambda answer, low, high: float(low) <= answer.as_of_s <= float(high),
    rf"it stops by itself by {N} s": lambda answer, at_s: answer.stop_by_s <= float(at_s),
    r"the (microphone|humidity sensor) is (\w+)": lambda answer, of, is_: told(answer, SENSORS[of])["status"] == is_,
    rf"steam began at {N} s": steam_began,
    "no steam has come": lambda answer: told(answer, "moisture")["onset_s"] is None,
}


def meaning(sentence: str, patterns: Mapping[str, Callable[..., Any]]) -> tuple[Callable[..., Any], tuple[Any, ...]]:
    for pattern, does in patterns.items():
        if match := re.fullmatch(pattern, sentence):
            return does, match.groups()
    raise ValueError(f"no pattern knows the sentence {sentence!r}; known are: {'; '.join(patterns)}")


def answer_of(scene: Scene, when: str) -> Decision:
    if match := re.fullmatch(rf"at {N} s", when):
        return ask(scene.cook, float(match[1]), scene.setup, scene.settled)
    match = re.fullmatch("every second until it says (warn|stop)", when)
    assert match is not None, f"nobody knows when {when!r} is"
    first_s = 1.0 if scene.settled is None else scene.settled.as_of_ms / 1000.0
    restart_s = scene.cook.restarts_ms / 1000.0
    moments_s = np.arange(max([first_s, *restart_s.tolist()]), float(LONGEST_S))
    return next(one for one in asked(scene.cook, moments_s, scene.setup, scene.settled) if one.decision == match[1])


def cases() -> list[Any]:
    files = sorted(Path(__file__).parent.glob("*.toml"))
    return [
        pytest.param(case, id=f"{file.stem}: {case['it']}")
        for file in files
        for case in tomllib.loads(file.read_text(encoding="utf-8"))["case"]
    ]


@pytest.mark.parametrize("case", cases())
def test_case(case: Mapping[str, Any]) -> None:
    assert case.keys() == {"it", "given", "asked", "then"}
    assert case["then"]
    scene = Scene()
    for sentence in case["given"]:
        does, words = meaning(sentence, GIVEN)
        scene = does(scene, *words)
    answer = answer_of(scene, case["asked"])
    for sentence in case["then"]:
        holds, words = meaning(sentence, THEN)
        assert holds(answer, *words), f"{sentence!r} does not hold of {answer}"


def test_every_sentence_that_can_be_said_is_said() -> None:
    """A pattern that no case uses would rot."""
    said = [sentence for param in cases() for part in ("given", "then") for sentence in param.values[0][part]]
    for pattern in [*GIVEN, *THEN]:
        assert any(re.fullmatch(pattern, sentence) for sentence in said), pattern


def test_a_sentence_that_nobody_knows_is_an_error() -> None:
    with pytest.raises(ValueError, match="no pattern knows the sentence 'rain from 10 s'"):
        meaning("rain from 10 s", GIVEN)
