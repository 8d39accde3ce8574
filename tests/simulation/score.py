"""Play cooks to a decider, and score when it stopped against when it should have.

A stop is in the window when it falls between the earliest and the latest good moment, with a grace of 4 s at each end unless
said otherwise. A cook that is never stopped counts as stopped at the end of its log. Each kind of cook is scored by itself;
reheats are also scored apart where the log says oven and load and where it does not. The typical moment of a reheat is the
middle of its window: what a forecast is held against.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from time import perf_counter
from typing import Any, TypeAlias

import numpy as np

from tests.simulation.plain_rules import (
    GRACE_S,
    REHEAT_STEAM_RATIO,
    best_ratio,
    best_timer_s,
    first_silence_s,
    steam_seen_s,
    vapour_seen_s,
)
from tests.simulation.posting import SimulatedCook
from tests.simulation.sketch import sketch_stop_s

REHEAT = "reheat"
FAR_S = 15.0
AHEAD_S = 20.0

Answer: TypeAlias = dict[str, Any]
DecideLine: TypeAlias = Callable[[Mapping[str, Any], Any], Answer]
Row: TypeAlias = dict[str, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of one cook, small enough to send between processes. None: it never happened."""

    name: str
    kind: str
    network: bool
    earliest_s: float
    typical_s: float
    latest_s: float
    end_s: float
    program: str = "popcorn"
    says_setup: bool = False
    stop_s: float | None = None
    intervals: int = 0
    intervals_with_stop: int = 0
    intervals_with_typical: int = 0
    intervals_meeting_window: int = 0
    ahead_error_s: float | None = None
    decision_ms: float | None = None
    silence_s: float | None = None
    steam_s: float | None = None
    sketch_s: float | None = None


def play(cook: SimulatedCook, decide_line: DecideLine) -> list[Answer]:
    """Post a cook line by line, each with the state of the last answer, up to the first stop.

    Every answer comes back as it was given, with `took_ms` beside it.
    """
    answers: list[Answer] = []
    state: Any = None
    for post in cook.log:
        begun = perf_counter()
        answer = decide_line(post, state)
        answers.append({**answer, "took_ms": 1000.0 * (perf_counter() - begun)})
        if answer["decision"] == "stop":
            break
        state = answer["state"]
    return answers


def outcome(cook: SimulatedCook, answers: Sequence[Answer]) -> Outcome:
    """Sum up one cook: the decider's answers, which may be none, and what the plain rules saw."""
    earliest_s, latest_s = cook.truth["stop_window_s"]
    middle_s = (earliest_s + latest_s) / 2.0
    typical_s = middle_s if cook.program == REHEAT else cook.truth["typical_first_two_second_silence_s"]
    stop_s = float(answers[-1]["as_of"]) if answers and answers[-1]["decision"] == "stop" else None
    return Outcome(
        name=cook.name,
        kind=cook.kind,
        network=cook.network,
        earliest_s=earliest_s,
        typical_s=typical_s,
        latest_s=latest_s,
        end_s=float(cook.log[-1]["as_of"]),
        program=cook.program,
        says_setup=cook.says_setup,
        stop_s=stop_s,
        decision_ms=float(np.mean([answer["took_ms"] for answer in answers])) if answers else None,
        silence_s=first_silence_s(cook.log),
        sketch_s=None if cook.program == REHEAT else sketch_stop_s(cook.log),
        steam_s=vapour_seen_s(cook.log) if cook.program == REHEAT else steam_seen_s(cook.log),
        **_forecasts(answers, stop_s, typical_s, (earliest_s, latest_s)),
    )


def _forecasts(
    answers: Sequence[Answer], stop_s: float | None, typical_s: float, window: tuple[float, float]
) -> dict[str, Any]:
    """How the forecasts before the stop turned out; nothing to say of a cook that was never stopped."""
    if stop_s is None:
        return {}
    given = [answer for answer in answers if answer["as_of"] < stop_s and answer["remaining"] is not None]
    ahead = [answer for answer in answers if answer["as_of"] <= stop_s - AHEAD_S][-1:]
    known = ahead and ahead[0]["remaining"] is not None
    return {
        "intervals": len(given),
        "intervals_with_stop": sum(_holds(answer, stop_s) for answer in given),
        "intervals_with_typical": sum(_holds(answer, typical_s) for answer in given),
        "intervals_meeting_window": sum(_meets(answer, window) for answer in given),
        "ahead_error_s": ahead[0]["as_of"] + ahead[0]["remaining"]["estimate_s"] - stop_s if known else None,
    }


def _holds(answer: Answer, at_s: float) -> bool:
    remaining = answer["remaining"]
    return bool(remaining["low_s"] <= at_s - answer["as_of"] <= remaining["high_s"])


def _meets(answer: Answer, window: tuple[float, float]) -> bool:
    remaining, at_s = answer["remaining"], answer["as_of"]
    return bool(at_s + remaining["low_s"] <= window[1] and at_s + remaining["high_s"] >= window[0])


def score(outcomes: Sequence[Outcome]) -> dict[str, Any]:
    """Score a run of one programme: `kinds` holds a row a kind and one for all of them, `constants` those of the plain rules."""
    reheats = any(one.program == REHEAT for one in outcomes)
    constants = _constants(outcomes, reheats=reheats)
    kinds = list(dict.fromkeys(one.kind for one in outcomes))
    rows = {kind: _row([one for one in outcomes if one.kind == kind], constants) for kind in kinds}
    for title, says in (("setup said", True), ("setup unsaid", False)):
        those = [one for one in outcomes if one.says_setup == says]
        if reheats and those:
            rows[title] = _row(those, constants)
    return {"constants": constants, "kinds": {**rows, "all": _row(outcomes, constants)}}


def _constants(outcomes: Sequence[Outcome], *, reheats: bool) -> dict[str, float]:
    """The steam clock of reheats is a fixed one; the best with hindsight stands beside it."""
    windows = [(one.earliest_s, one.latest_s) for one in outcomes]
    best = best_ratio([one.steam_s for one in outcomes], windows)
    timer_s = best_timer_s(windows)
    if reheats:
        return {"steam_ratio": REHEAT_STEAM_RATIO, "best_steam_ratio": best, "timer_s": timer_s}
    return {"steam_ratio": best, "timer_s": timer_s}


def _row(outcomes: Sequence[Outcome], constants: Mapping[str, float]) -> Row:
    """All figures of one kind."""
    row: Row = {"cooks": float(len(outcomes))}
    if any(one.decision_ms is not None for one in outcomes):
        row |= _all_stop_figures(outcomes, [one.stop_s for one in outcomes]) | _forecast_figures(outcomes)
    for rule, stops in _plain_stops(outcomes, constants).items():
        row |= {f"{rule}_{figure}": value for figure, value in _all_stop_figures(outcomes, stops).items()}
    return row


def _plain_stops(outcomes: Sequence[Outcome], constants: Mapping[str, float]) -> dict[str, list[float | None]]:
    """When each plain rule would have stopped these cooks."""
    stops: dict[str, list[float | None]] = {}
    if "best_steam_ratio" in constants:
        stops["best_steam"] = _steam_clock(outcomes, constants["best_steam_ratio"])
    else:
        stops["silence"] = [one.silence_s for one in outcomes]
    stops["steam"] = _steam_clock(outcomes, constants["steam_ratio"])
    if "silence" in stops:
        by_sound = [one.sketch_s for one in outcomes]
        stops["sketch"] = [b if a is None else a for a, b in zip(by_sound, stops["steam"], strict=True)]
    stops["timer"] = [constants["timer_s"]] * len(outcomes)
    return stops


def _steam_clock(outcomes: Sequence[Outcome], ratio: float) -> list[float | None]:
    return [None if one.steam_s is None else ratio * one.steam_s for one in outcomes]


def _all_stop_figures(outcomes: Sequence[Outcome], stops_s: Sequence[float | None]) -> Row:
    figures = stop_figures(outcomes, stops_s)
    return figures | safety_figures(outcomes, stops_s) if outcomes[0].program == REHEAT else figures


def safety_figures(outcomes: Sequence[Outcome], stops_s: Sequence[float | None]) -> Row:
    """Of reheats: how many were stopped well before their core was safe, and how many after they had dried out."""
    at_s = [one.end_s if stop is None else stop for one, stop in zip(outcomes, stops_s, strict=True)]
    return {
        "unsafe": float(np.mean([one.earliest_s - at > FAR_S for one, at in zip(outcomes, at_s, strict=True)])),
        "dried": float(np.mean([at > one.latest_s for one, at in zip(outcomes, at_s, strict=True)])),
    }


def stop_figures(outcomes: Sequence[Outcome], stops_s: Sequence[float | None]) -> Row:
    """How well these stops fall into the windows of these cooks."""
    at_s = np.array([one.end_s if stop is None else stop for one, stop in zip(outcomes, stops_s, strict=True)])
    outside = np.maximum(
        np.array([one.earliest_s for one in outcomes]) - at_s, at_s - np.array([one.latest_s for one in outcomes])
    )
    distance = at_s - np.array([one.typical_s for one in outcomes])
    early = at_s < np.array([one.earliest_s for one in outcomes])
    return {
        "in_window": float(np.mean(outside <= GRACE_S)),
        "in_window_no_grace": float(np.mean(outside <= 0.0)),
        "far_misses": float(np.mean(outside > FAR_S)),
        "early": float(np.mean((outside > GRACE_S) & early)),
        "late": float(np.mean((outside > GRACE_S) & ~early)),
        "distance_median_s": float(np.median(np.abs(distance))),
        "distance_p90_s": float(np.quantile(np.abs(distance), 0.9)),
        "bias_median_s": float(np.median(distance)),
        "never_stopped": float(sum(stop is None for stop in stops_s)),
    }


def _forecast_figures(outcomes: Sequence[Outcome]) -> Row:
    """How well the stop was foretold, over the cooks that were stopped."""
    given = sum(one.intervals for one in outcomes)
    meeting = sum(one.intervals_meeting_window for one in outcomes)
    meets: Row = {"interval_meets_window": meeting / given if given else None}
    stopped = [one for one in outcomes if one.stop_s is not None]
    errors = [abs(one.ahead_error_s) for one in stopped if one.ahead_error_s is not None]
    figures: Row = {
        "interval_holds_stop": sum(one.intervals_with_stop for one in outcomes) / given if given else None,
        "interval_holds_typical": sum(one.intervals_with_typical for one in outcomes) / given if given else None,
        "ahead_error_median_s": float(np.median(errors)) if errors else None,
        "forecast_ahead": len(errors) / len(stopped) if stopped else None,
        "decision_ms": float(np.mean([one.decision_ms for one in outcomes if one.decision_ms is not None])),
    }
    return figures | meets if outcomes[0].program == REHEAT else figures
