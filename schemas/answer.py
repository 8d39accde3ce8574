"""A decision as it is written: fixed order, rounded numbers, and never a NaN.

The schemas say the shape, which the API's description is made from; `answer_of` writes it, in a fraction of the time.
"""

import math
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from marshmallow import Schema, fields, missing

from service.rules.decision import Decision, Plain, Reason, Remaining

Written = float | str | list[Any] | dict[str, Any] | None


class Told(fields.Field[Any]):
    """A value written as it stands, but rounded; None is written as null, or left out when `optional`."""

    def __init__(self, kind: str, says: str, *, nullable: bool = False, optional: bool = False, **options: Any) -> None:
        """`kind` is its type in JSON, `says` describes it to whoever reads about the API."""
        super().__init__(allow_none=nullable, metadata={"description": says}, **options)
        self.kind = kind
        self.optional = optional

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> Any:
        if value is None and self.optional:
            return missing
        return written(value, self.data_key or attr or "")


class ReasonSchema(Schema):
    """A rule that fired."""

    rule = Told("string", "its code, which never changes")
    says = Told("string", "what it found, in one sentence for a person")
    value = Told("number", "what was measured, in `unit`", optional=True)
    limit = Told("number", "what it was held against, in `unit`", optional=True)
    unit = Told("string", "the unit of `value` and `limit`", optional=True)


class RemainingSchema(Schema):
    """Time until the stop, counted from `as_of`, with a central interval."""

    estimate_s = Told("number", "the estimate (s)")
    low_s = Told("number", "the lower end of the interval (s)")
    high_s = Told("number", "the upper end of the interval (s)")
    interval_pct = Told("number", "how much probability the interval holds (%)")


class AnswerSchema(Schema):
    """The answer to a decision request.

    `state` is not part of a Decision: whoever holds the keys adds it.
    """

    decision = Told("string", "go on, call a person, or stop; a stop holds until a later restart")
    as_of = Told("number", "the moment that the decision is for, on the cook clock (s)", attribute="as_of_s")
    remaining = fields.Nested(
        RemainingSchema,
        allow_none=True,
        metadata={"description": "time until the stop; null when nothing can be said yet, zeros on `stop`"},
    )
    stop_by_s = Told("number", "the appliance stops by itself then, on the cook clock, if it hears nothing more (s)")
    post_again_in_s = Told("number", "how soon the next post is worth making (s)")
    reasons = fields.List(
        fields.Nested(ReasonSchema), metadata={"description": "the rules that fired, the deciding one first"}
    )
    evidence = Told("object", "what was concluded from each sensor")
    cautions = Told("array", "the safety cautions that apply now")
    state = Told("string", "to be returned with the next post, unread")


def answer_of(decision: Decision, evidence: Collection[str] | None = None) -> dict[str, Any]:
    """What AnswerSchema makes of a decision; of the evidence only the facts with these names, where some are given."""
    return {
        "decision": decision.decision,
        "as_of": written(decision.as_of_s, "as_of"),
        "remaining": None if decision.remaining is None else _remaining(decision.remaining),
        "stop_by_s": written(decision.stop_by_s, "stop_by_s"),
        "post_again_in_s": written(decision.post_again_in_s, "post_again_in_s"),
        "reasons": [_reason(reason) for reason in decision.reasons],
        "evidence": {sensor: _facts(facts, evidence) for sensor, facts in decision.evidence.items()},
        "cautions": list(decision.cautions),
    }


def written(value: Plain, name: str) -> Written:
    """A plain value as it goes over the wire.

    Times (a name that ends in `_s`) are rounded to the millisecond, other numbers to three decimals or, below 1, to
    three significant digits. What is not finite is not known, and becomes null.
    """
    if isinstance(value, float):
        if not math.isfinite(value):
            return None
        if -1.0 < value < 1.0 and value != 0.0 and not name.endswith("_s"):
            return float(f"{value:.3g}")
        return round(float(value), 3)
    if value is None or isinstance(value, (str, int)):
        return value
    if isinstance(value, Mapping):
        return _facts(value)
    if isinstance(value, Sequence):
        return [written(part, name) for part in value]
    raise TypeError(f"{name}: a decision holds plain values, not {type(value).__name__}")


def _facts(facts: Mapping[str, Plain], names: Collection[str] | None = None) -> dict[str, Any]:
    told = facts if names is None else {name: facts[name] for name in names if name in facts}
    return {name: None if fact is None else written(fact, name) for name, fact in told.items()}


def _remaining(remaining: Remaining) -> dict[str, Any]:
    return {
        "estimate_s": written(remaining.estimate_s, "estimate_s"),
        "low_s": written(remaining.low_s, "low_s"),
        "high_s": written(remaining.high_s, "high_s"),
        "interval_pct": written(remaining.interval_pct, "interval_pct"),
    }


def _reason(reason: Reason) -> dict[str, Any]:
    told: dict[str, Any] = {"rule": reason.rule, "says": reason.says}
    if reason.value is not None:
        told["value"] = written(reason.value, "value")
    if reason.limit is not None:
        told["limit"] = written(reason.limit, "limit")
    if reason.unit is not None:
        told["unit"] = reason.unit
    return told
