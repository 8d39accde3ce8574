"""Play cooks to a decider, and score when it stopped against when it should have.

A stop is in the window when it falls between the earliest and the latest good moment, with a grace of 4 s at each end unless
said otherwise. A cook that is never stopped counts as stopped at the end of its log. Each kind of cook is scored by itself.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from time import perf_counter
from typing import Any, TypeAlias

import numpy as np

from tests.simulation.plain_rules import GRACE_S, best_ratio, best_timer_s, first_silence_s, steam_seen_s
from tests.simulation.posting import SimulatedCook

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
    stop_s: float | None = None
    intervals: int = 0
    intervals_with_stop: int = 0
    intervals_with_typical: int = 0
    ahead_error_s: float | None = None
    decision_ms: float | None = None
    silence_s: float | None = None
    steam_s: float | None = None


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
    typical_s = cook.truth["typical_first_two_second_silence_s"]
    stop_s = float(answers[-1]["as_of"]) if answers and answers[-1]["decision"] == "stop" else None
    return Outcome(
        name=cook.name,
        kind=cook.kind,
        network=cook.network,
        earliest_s=earliest_s,
        typical_s=typical_s,
        latest_s=latest_s,
        end_s=float(cook.log[-1]["as_of"]),
        stop_s=stop_s,
        decision_ms=float(np.mean([answer["took_ms"] for answer in answers])) if answers else None,
        silence_s=first_silence_s(cook.log),
        steam_s=steam_seen_s(cook.log),
        **_forecasts(answers, stop_s, typical_s),
    )


def _forecasts(answers: Sequence[Answer], stop_s: float | None, typical_s: float) -> dict[str, Any]:
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
        "ahead_error_s": ahead[0]["as_of"] + ahead[0]["remaining"]["estimate_s"] - stop_s if known else None,
    }


def _holds(answer: Answer, at_s: float) -> bool:
    remaining = answer["remaining"]
    return bool(remaining["low_s"] <= at_s - answer["as_of"] <= remaining["high_s"])


def score(outcomes: Sequence[Outcome]) -> dict[str, Any]:
    """Score a run: `kinds` holds a row a kind and one for all of them, `constants` those of the plain rules."""
    windows = [(one.earliest_s, one.latest_s) for one in outcomes]
    constants = {
        "steam_ratio": best_ratio([one.steam_s for one in outcomes], windows),
        "timer_s": best_timer_s(windows),
    }
    kinds = list(dict.fromkeys(one.kind for one in outcomes))
    rows = {kind: _row([one for one in outcomes if one.kind == kind], constants) for kind in kinds}
    return {"constants": constants, "kinds": {**rows, "all": _row(outcomes, constants)}}


def _row(outcomes: Sequence[Outcome], constants: Mapping[str, float]) -> Row:
    """All figures of one kind."""
    ratio, timer_s = constants["steam_ratio"], constants["timer_s"]
    row: Row = {"cooks": float(len(outcomes))}
    if any(one.decision_ms is not None for one in outcomes):
        row |= stop_figures(outcomes, [one.stop_s for one in outcomes]) | _forecast_figures(outcomes)
    plain: dict[str, list[float | None]] = {
        "silence": [one.silence_s for one in outcomes],
        "steam": [None if one.steam_s is None else ratio * one.steam_s for one in outcomes],
        "timer": [timer_s] * len(outcomes),
    }
    for rule, stops in plain.items():
        row |= {f"{rule}_{figure}": value for figure, value in stop_figures(outcomes, stops).items()}
    return row


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
    stopped = [one for one in outcomes if one.stop_s is not None]
    errors = [abs(one.ahead_error_s) for one in stopped if one.ahead_error_s is not None]
    return {
        "interval_holds_stop": sum(one.intervals_with_stop for one in outcomes) / given if given else None,
        "interval_holds_typical": sum(one.intervals_with_typical for one in outcomes) / given if given else None,
        "ahead_error_median_s": float(np.median(errors)) if errors else None,
        "forecast_ahead": len(errors) / len(stopped) if stopped else None,
        "decision_ms": float(np.mean([one.decision_ms for one in outcomes if one.decision_ms is not None])),
    }
