"""Strict fields: a number is a JSON number, a text is a JSON string, and nothing is coerced.

Every message says what was expected and what was received.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Generic, TypeVar

from marshmallow import RAISE, Schema, ValidationError, fields, post_load, pre_load

T = TypeVar("T")

MOST_MESSAGES = 20
"""No more messages than this are collected for one list; the rest would only repeat them."""

_NO_NULL = "null is not taken; leave the field out when it is not known"
_LONGEST_QUOTED = 30
_KINDS = {str: "a text", list: "a list", dict: "an object", bool: "true or false", type(None): "null"}


def no_field(names: Iterable[str]) -> str:
    """What is said of a field that is not there, with those that are."""
    return f"there is no such field here; there are: {', '.join(names)}"


def received(value: object) -> str:
    """What a value is, in a few words that are safe to send back whatever was sent."""
    if isinstance(value, str) and len(value) <= _LONGEST_QUOTED and value.isprintable():
        return f"the text {value!r}"
    if isinstance(value, bool) or not isinstance(value, int | float):
        return _KINDS.get(type(value), "something else")
    if isinstance(value, int):
        return str(value) if abs(value) < 10**15 else "a very large whole number"
    return f"{value:.12g}" if math.isfinite(value) else "NaN or an infinity"


class Strict(fields.Field[T], Generic[T]):
    """A field that refuses null in words, says when it is missing, and takes a value by `taken` alone."""

    default_error_messages = {"required": "this field is required", "null": _NO_NULL}  # noqa: RUF012 (the library's own form)

    def __init__(self, *, says: str = "", required: bool = False) -> None:
        """`says` describes the field to whoever reads about the API."""
        super().__init__(required=required, metadata={"description": says} if says else {})

    def taken(self, value: Any) -> T:
        """The value as it is loaded. Raises ValidationError."""
        raise NotImplementedError(type(self).__name__)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> T:
        return self.taken(value)


class Number(Strict[float]):
    """A finite JSON number from `low` to `high`, both taken; `unit` is for the message."""

    def __init__(self, low: float, high: float, unit: str = "", *, says: str = "", required: bool = False) -> None:
        super().__init__(says=says, required=required)
        self.low, self.high, self.unit = low, high, unit
        self.expected = expected_number(low, high, unit)

    def taken(self, value: Any) -> float:
        if type(value) not in (int, float) or not self.low <= value <= self.high:
            raise ValidationError(f"expected {self.expected}; received {received(value)}")
        return float(value)


class Text(Strict[str]):
    """A JSON string of 1 to `longest` characters."""

    def __init__(self, longest: int, *, says: str = "") -> None:
        super().__init__(says=says)
        self.longest = longest

    def taken(self, value: Any) -> str:
        if not isinstance(value, str):
            raise ValidationError(f"expected a text; received {received(value)}")
        if not 0 < len(value) <= self.longest:
            raise ValidationError(f"expected a text of 1 to {self.longest} characters; received {len(value)}")
        return value


class Whole(Number):
    """A whole JSON number from `low` to `high`, both taken."""

    def taken(self, value: Any) -> float:
        number = super().taken(value)
        if number != int(number):
            raise ValidationError(
                f"expected {self.expected.replace('a number', 'a whole number')}; received {received(value)}"
            )
        return int(number)


class OneOf(Strict[str]):
    """A JSON string out of a few."""

    def __init__(self, *words: str, says: str = "") -> None:
        super().__init__(says=says)
        self.words = words

    def taken(self, value: Any) -> str:
        if not isinstance(value, str) or value not in self.words:
            raise ValidationError(f"expected one of {', '.join(self.words)}; received {received(value)}")
        return value


class _Amiss(Exception):
    """Something is wrong with an object; what it is, is for `Object.load` to say."""


class Object(Schema):
    """A JSON object with these fields and no others. What it loads into is up to `made`."""

    class Meta:
        unknown = RAISE

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self._takers: dict[str, Callable[[Any], Any]] = {
            name: field.schema.quickly if isinstance(field, fields.Nested) else field.taken  # type: ignore[attr-defined]
            for name, field in self.load_fields.items()
        }
        self.error_messages["unknown"] = no_field(self.load_fields)
        self._required = {name for name, field in self.load_fields.items() if field.required}

    def made(self, read: dict[str, Any]) -> Any:
        """What the fields that were sent load into. Raises ValidationError when they do not fit together."""
        return read

    def taken(self, value: object) -> Any:
        """What `load` gives and raises, but sooner where nothing is wrong."""
        try:
            return self.quickly(value)
        except (_Amiss, ValidationError):
            return self.load(value)  # type: ignore[arg-type]

    def quickly(self, value: object) -> Any:
        """What `load` gives. Raises _Amiss or ValidationError, neither of which says where, when there is anything wrong."""
        if type(value) is not dict:
            raise _Amiss
        read = {}
        for name, part in value.items():
            taker = self._takers.get(name)
            if taker is None:
                raise _Amiss
            read[name] = taker(part)
        if not self._required <= read.keys():
            raise _Amiss
        return self.made(read)

    @pre_load
    def _of_fields_alone(self, value: Any, **_: Any) -> Any:
        """Refuse what is no object, and very many strangers at once: telling them one by one takes the square of their number."""
        if not isinstance(value, dict):
            raise ValidationError(f"expected an object; received {received(value)}")
        if len(value) > len(self.fields) + MOST_MESSAGES:
            strangers = [name for name in value if name not in self.fields]
            raise ValidationError({name: [no_field(self.load_fields)] for name in strangers[:MOST_MESSAGES]})
        return value

    @post_load
    def _made(self, read: dict[str, Any], **_: Any) -> Any:
        return self.made(read)


def nested(schema: type[Object], says: str) -> fields.Nested:
    """A field that holds an object of this schema and may be left out; `says` describes it."""
    return fields.Nested(schema, error_messages={"null": _NO_NULL}, metadata={"description": says})


def expected_number(low: float, high: float, unit: str) -> str:
    """The words for a range, such as `a number from 0 to 7200 s`."""
    return f"a number from {low:g} to {high:g} {unit}".rstrip()
