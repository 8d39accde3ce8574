"""What goes into a decision beside the readings, and what comes out of it.

Plain frozen values: nothing here computes. Times that take part in the arithmetic are whole milliseconds on the cook
clock (`_ms`); times that are told are seconds (`_s`).
"""

from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple, TypeAlias

from service.readings.settled import Settled
from service.readings.setup import Fitted, OvenProfile, Setup

__all__ = [
    "Decision",
    "Evidence",
    "Fitted",
    "OvenProfile",
    "Plain",
    "Reason",
    "Remaining",
    "Settled",
    "Setup",
    "Verdict",
]

Verdict = Literal["continue", "warn", "stop"]
Plain: TypeAlias = "float | str | Sequence[Plain] | Mapping[str, Plain] | None"
Evidence: TypeAlias = Mapping[str, Mapping[str, Plain]]


class Reason(NamedTuple):
    """A rule that fired.

    Attributes:
        rule: its stable code.
        says: one sentence for a person.
        value, limit, unit: what was measured, what it was held against, and the unit of both, where there is a number.
    """

    rule: str
    says: str
    value: float | None = None
    limit: float | None = None
    unit: str | None = None


class Remaining(NamedTuple):
    """Time until the stop, counted from the moment of the decision, with a central interval of `interval_pct` (s)."""

    estimate_s: float
    low_s: float
    high_s: float
    interval_pct: float


class Decision(NamedTuple):
    """The answer to one question about one cook.

    Attributes:
        decision: go on, call a person, or stop.
        as_of_s: the moment that it is for, on the cook clock.
        remaining: time until the stop; None when nothing can be said yet, zeros on `stop`.
        stop_by_s: when the appliance stops by itself if it hears nothing more, on the cook clock.
        post_again_in_s: how soon the next question is worth asking.
        reasons: the rules that fired, the deciding one first.
        evidence: by sensor (`acoustic`, `moisture`, `heating`), plain values with units in their names.
        cautions: the safety sentences that apply now.
        settled: what is decided from here on, to be handed to the next decision.
    """

    decision: Verdict
    as_of_s: float
    remaining: Remaining | None
    stop_by_s: float
    post_again_in_s: float
    reasons: tuple[Reason, ...]
    evidence: Evidence
    cautions: tuple[str, ...]
    settled: Settled
