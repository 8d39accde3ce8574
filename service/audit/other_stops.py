"""What would have happened to a cook under another rule: under ours, under the two-second rule, under steam times a constant.

Model. The readings until the stop are played to the rule, once a second. A rule that has not stopped by then would have
gone on: its stop is foreseen, by our forecast, by a silence from the last pop on, or by the constant. The two-second rule
minds silences from the peak of the popping on, as a person does who listens: before it they mean nothing. What an earlier stop
would have cost is the number of pops that were heard between the two: at least so many kernels more would have been left.
What a later one would have gained is not known, since nobody heated on.

Range. Cooks of which the stop is known. None where a rule has nothing to go by.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from service.audit.numbers import audit_numbers
from service.audit.stop_cues import cook_s_of, peak_of
from service.evidence.moisture import MoistureNumbers, moisture_evidence
from service.outcomes.finished import FinishedCook
from service.programs.heating import heating_clock
from service.programs.programme import Programme
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from service.rules.decide import decide
from service.rules.decision import Settled

Rule: TypeAlias = Literal["ours", "first-silence", "steam-times-constant"]
RULES: tuple[Rule, ...] = ("ours", "first-silence", "steam-times-constant")
EVERY_MS = 1000
_SOUNDS_FIRST = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherStop:
    """The stop of another rule.

    Attributes:
        rule: which.
        stop_s: when it would have stopped (s, cook clock).
        is_foreseen: it would have gone on beyond the real stop, and this is its forecast.
        later_s: how much later than the real stop; negative where earlier.
        pops_after: pops heard between this stop and the real one; 0 where it is later.
    """

    rule: Rule
    stop_s: float
    is_foreseen: bool
    later_s: float
    pops_after: int


def other_stops(finished: FinishedCook, programme: Programme) -> tuple[OtherStop, ...]:
    """The stops of all other rules that have something to go by; none where the real stop is not known."""
    if not finished.outcome.stopped_s:
        return ()
    end_ms = finished.end_ms()
    cook = finished.cook.until(end_ms)
    number = programme.number
    clock = heating_clock(programme, cook, end_ms)
    gap_s = number("gap_s") if finished.setup.gap_s is None else finished.setup.gap_s
    stops_s = {
        "ours": our_stop_s(finished, programme),
        "first-silence": _first_silence_s(cook, clock, gap_s),
        "steam-times-constant": _steam_clock_s(cook, clock, programme),
    }
    return tuple(_told(rule, stop_s, cook, clock.as_of_s) for rule in RULES if (stop_s := stops_s[rule]) is not None)


def our_stop_s(finished: FinishedCook, programme: Programme, moments_ms: Sequence[int] | None = None) -> float | None:
    """When we would have stopped, asked at these moments or else once a second; foreseen beyond the real stop."""
    end_ms = finished.end_ms()
    settled: Settled | None = None
    decision = None
    for as_of_ms in range(EVERY_MS, end_ms + 1, EVERY_MS) if moments_ms is None else moments_ms:
        decision = decide(
            programme=programme, setup=finished.setup, cook=finished.cook, as_of_ms=as_of_ms, settled=settled
        )
        if decision.decision == "stop":
            return as_of_ms / 1000.0
        settled = decision.settled
    if decision is None or decision.remaining is None:
        return None
    # What is due at once at the last moment was not yet said.
    return max(decision.as_of_s + decision.remaining.estimate_s, end_ms / 1000.0)


def _first_silence_s(cook: Cook, clock: HeatingClock, gap_s: float) -> float | None:
    if cook.pops_ms.size < _SOUNDS_FIRST:
        return None
    heated_s = clock.heating_s(np.append(cook.pops_ms / 1000.0, clock.as_of_s))
    peak = peak_of(heated_s[:-1])
    long = np.diff(heated_s)[peak:] >= gap_s
    last = peak + int(long.argmax()) if long.any() else cook.pops_ms.size - 1
    return _cook_s_of_heating(clock, float(heated_s[last]) + gap_s)


def _cook_s_of_heating(clock: HeatingClock, heated_s: float) -> float:
    """When so many seconds of heating are over (s, cook clock); after the clock's own moment it is on all the time."""
    now_heated_s = clock.heating_s(clock.as_of_s)
    if heated_s > now_heated_s:
        return clock.as_of_s + heated_s - now_heated_s
    knots_s = np.append(clock.knots_s[:-1], clock.as_of_s)
    return float(np.interp(heated_s, clock.heating_s(knots_s), knots_s))


def _steam_clock_s(cook: Cook, clock: HeatingClock, programme: Programme) -> float | None:
    steam = moisture_evidence(cook, programme.numbers(MoistureNumbers)).steam
    if steam is None or steam.onset_s is None:
        return None
    return cook_s_of(clock, float(clock.full_power_s(steam.onset_s)) * audit_numbers().number("steam_ratio"))


def _told(rule: Rule, stop_s: float, cook: Cook, real_s: float) -> OtherStop:
    after = cook.pops_ms.size - int(cook.pops_ms.searchsorted(stop_s * 1000.0, "right"))
    return OtherStop(rule=rule, stop_s=stop_s, is_foreseen=stop_s > real_s, later_s=stop_s - real_s, pops_after=after)
