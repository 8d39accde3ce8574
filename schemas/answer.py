"""A decision as it is written: fixed order, rounded numbers, and never a NaN."""

import math
from collections.abc import Mapping, Sequence
from typing import Any, Generic, TypeVar

from marshmallow import Schema, fields, missing

from service.rules.decision import Plain

Written = float | str | list[Any] | dict[str, Any] | None
T = TypeVar("T")


class Told(fields.Field[T], Generic[T]):
    """A value written as it stands, but rounded; None is written as null, or left out when `optional`."""

    def __init__(self, *, optional: bool = False, **options: Any) -> None:
        super().__init__(**options)
        self.optional = optional

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> Any:
        if value is None and self.optional:
            return missing
        return written(value, self.data_key or attr or "")


class ReasonSchema(Schema):
    """A rule that fired."""

    rule = Told[str]()
    says = Told[str]()
    value = Told[float](optional=True)
    limit = Told[float](optional=True)
    unit = Told[str](optional=True)


class RemainingSchema(Schema):
    """Time until the stop, with its interval."""

    estimate_s = Told[float]()
    low_s = Told[float]()
    high_s = Told[float]()
    interval_pct = Told[float]()


class AnswerSchema(Schema):
    """The answer to a decision request. `state` is not part of a Decision: whoever holds the keys adds it."""

    decision = Told[str]()
    as_of = Told[float](attribute="as_of_s")
    remaining = fields.Nested(RemainingSchema, allow_none=True)
    stop_by_s = Told[float]()
    post_again_in_s = Told[float]()
    reasons = fields.List(fields.Nested(ReasonSchema))
    evidence = Told[dict[str, Any]]()
    cautions = Told[list[str]]()
    state = Told[str]()


def written(value: Plain, name: str) -> Written:
    """A plain value as it goes over the wire.

    Times (a name that ends in `_s`) are rounded to the millisecond, other numbers to three decimals or, below 1, to
    three significant digits. What is not finite is not known, and becomes null.
    """
    if isinstance(value, float):
        return _rounded(float(value), name) if math.isfinite(value) else None
    if value is None or isinstance(value, (str, int)):
        return value
    if isinstance(value, Mapping):
        return {key: written(part, key) for key, part in value.items()}
    if isinstance(value, Sequence):
        return [written(part, name) for part in value]
    raise TypeError(f"{name}: a decision holds plain values, not {type(value).__name__}")


def _rounded(value: float, name: str) -> float:
    if abs(value) >= 1.0 or value == 0.0 or name.endswith("_s"):
        return round(value, 3)
    return float(f"{value:.3g}")
