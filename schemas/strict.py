"""Strict fields: a number is a JSON number, a text is a JSON string, and nothing is coerced.

Every message says what was expected and what was received.
"""

import math
from collections.abc import Mapping
from typing import Any, Generic, TypeVar

from marshmallow import RAISE, Schema, ValidationError, fields

T = TypeVar("T")

MOST_MESSAGES = 20
"""No more messages than this are collected for one list; the rest would only repeat them."""

_NO_NULL = "null is not taken; leave the field out when it is not known"
_KINDS = {str: "a text", list: "a list", dict: "an object", bool: "true or false", type(None): "null"}


def received(value: object) -> str:
    """What a value is, in a few words that are safe to send back whatever was sent."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return _KINDS.get(type(value), "something else")
    if isinstance(value, int):
        return str(value) if abs(value) < 10**15 else "a very large whole number"
    return f"{value:.12g}" if math.isfinite(value) else "NaN or an infinity"


class Strict(fields.Field[T], Generic[T]):
    """A field that refuses null in words and says when it is missing."""

    default_error_messages = {"required": "this field is required", "null": _NO_NULL}  # noqa: RUF012 (the library's own form)


class Number(Strict[float]):
    """A finite JSON number from `low` to `high`, both taken; `unit` is for the message."""

    def __init__(self, low: float, high: float, unit: str = "", **options: Any) -> None:
        super().__init__(**options)
        self.low, self.high = low, high
        self.expected = expected_number(low, high, unit)

    def _deserialize(self, value: object, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> float:
        if type(value) not in (int, float) or not self.low <= value <= self.high:  # type: ignore[operator]
            raise ValidationError(f"expected {self.expected}; received {received(value)}")
        return float(value)  # type: ignore[arg-type]


class Text(Strict[str]):
    """A JSON string of 1 to `longest` characters."""

    def __init__(self, longest: int, **options: Any) -> None:
        super().__init__(**options)
        self.longest = longest

    def _deserialize(self, value: object, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        if not isinstance(value, str):
            raise ValidationError(f"expected a text; received {received(value)}")
        if not 0 < len(value) <= self.longest:
            raise ValidationError(f"expected a text of 1 to {self.longest} characters; received {len(value)}")
        return value


class Object(Schema):
    """A JSON object with these fields and no others."""

    error_messages = {  # noqa: RUF012 (the library's own form)
        "unknown": "there is no such field here",
        "type": "expected an object",
    }

    class Meta:
        unknown = RAISE


def nested(schema: type[Object]) -> fields.Nested:
    """A field that holds an object of this schema and may be left out."""
    return fields.Nested(schema, error_messages={"null": _NO_NULL})


def expected_number(low: float, high: float, unit: str) -> str:
    """The words for a range, such as `a number from 0 to 7200 s`."""
    return f"a number from {low:g} to {high:g} {unit}".rstrip()
