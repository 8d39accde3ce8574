"""Sensor Measurement Lists in JSON (RFC 8428): a pack of records, resolved.

A record may leave out what an earlier one has set for all that follow: the beginning of a name, a time to add to, a
unit, a value to add to. Resolving a pack (section 4.6) gives each record its own. Times are left as the pack has them:
seconds since 1970 from 2^28 on, and below that seconds from now, whenever that is (section 4.5.3).

Labels that are not known are passed over, but for those that end in `_`, which must be understood (section 4.4).
"""

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from marshmallow import ValidationError

from schemas.strict import MOST_MESSAGES, received

ABSOLUTE_S = 2.0**28
"""From here on a time counts from 1970, below it from now."""
VERSION = 10

_LARGEST = math.nextafter(math.inf, 0.0)
_REGULAR = frozenset({"n", "u", "v", "vs", "vb", "vd", "s", "t", "ut"})
_TEXTS = frozenset({"bn", "bu", "n", "u", "vs", "vd"})
_NUMBERS = frozenset({"bt", "bv", "bs", "bver", "v", "s", "t", "ut"})
_VALUES = ("v", "vs", "vb", "vd")
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9:./_-]*", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """A resolved record.

    Attributes:
        at: its place in the pack.
        name, unit: of what was measured; the unit is None where neither the record nor the pack has one.
        time_s: when, since 1970 from ABSOLUTE_S on, from now below that.
        value: a number, a text, or true or false; None where the record has a sum or data alone.
        data: binary data, as it stands in base64.
        sum: the value integrated over time.
        update_s: within how many seconds there will be another.
    """

    at: int
    name: str
    unit: str | None
    time_s: float
    value: float | str | bool | None
    data: str | None = None
    sum: float | None = None
    update_s: float | None = None

    @property
    def is_absolute(self) -> bool:
        """Whether its time counts from 1970."""
        return self.time_s >= ABSOLUTE_S


@dataclass(slots=True, kw_only=True)
class _Base:
    """What the records so far have set for those that follow."""

    name: str = ""
    time_s: float = 0.0
    unit: str | None = None
    value: float | None = None
    sum: float | None = None
    version: float | None = None

    def set_by(self, record: Mapping[str, Any]) -> None:
        self.name = record.get("bn", self.name)
        self.time_s = record.get("bt", self.time_s)
        self.unit = record.get("bu", self.unit)
        self.value = record.get("bv", self.value)
        self.sum = record.get("bs", self.sum)
        self.version = record.get("bver", VERSION if self.version is None else self.version)


def resolved(pack: object) -> list[Record]:
    """The records of a pack in the order of their times, base values applied.

    Raises ValidationError, its messages by place in the pack and by label, for what is no pack of a known version.
    """
    if not isinstance(pack, list):
        raise ValidationError(f"expected a SenML pack, which is a list of records; received {received(pack)}")
    base = _Base()
    records: list[Record] = []
    wrong: dict[Any, Any] = {}
    for at, record in enumerate(pack):
        complaints = _complaints(record, base)
        if complaints:
            wrong[at] = complaints
        else:
            base.set_by(record)
            records += _applied(base, record, at)
        if len(wrong) == MOST_MESSAGES:
            break
    if wrong:
        raise ValidationError(wrong)
    return sorted(records, key=lambda record: record.time_s)


def _applied(base: _Base, record: Mapping[str, Any], at: int) -> Iterator[Record]:
    """The record, resolved; none for one that only sets base values."""
    if _REGULAR.isdisjoint(record):
        return
    value = next((record[label] for label in ("v", "vs", "vb") if label in record), None)
    if base.value is not None and not any(label in record for label in ("vs", "vb", "vd")):
        value = float(base.value + record.get("v", 0.0))
    total = None if base.sum is None and "s" not in record else float((base.sum or 0.0) + record.get("s", 0.0))
    yield Record(
        at=at,
        name=base.name + record.get("n", ""),
        unit=record.get("u", base.unit),
        time_s=float(base.time_s + record.get("t", 0.0)),
        value=value,
        data=record.get("vd"),
        sum=total,
        update_s=record.get("ut"),
    )


def _complaints(record: object, base: _Base) -> dict[str, list[str]] | list[str]:
    if not isinstance(record, dict):
        return [f"expected a record, which is an object; received {received(record)}"]
    wrong = {label: [said] for label, cell in record.items() if (said := _complaint(label, cell))}
    if wrong:
        return wrong
    if said := _version_complaint(record, base):
        return {"bver": [said]}
    if _REGULAR.isdisjoint(record):
        return []
    name = record.get("bn", base.name) + record.get("n", "")
    if not _NAME.fullmatch(name):
        return {"n": ["expected bn and n together to be letters, digits and - : . / _, a letter or digit first"]}
    return _value_complaints(record, base)


def _complaint(label: str, cell: Any) -> str | None:
    if label in _TEXTS:
        return None if isinstance(cell, str) else f"expected a text; received {received(cell)}"
    if label in _NUMBERS:
        is_number = type(cell) in (int, float) and abs(cell) <= _LARGEST
        return None if is_number else f"expected a finite number; received {received(cell)}"
    if label == "vb":
        return None if isinstance(cell, bool) else f"expected true or false; received {received(cell)}"
    return "this label must be understood, and is not known here" if label.endswith("_") else None


def _version_complaint(record: Mapping[str, Any], base: _Base) -> str | None:
    version = record.get("bver")
    if version is None:
        return None
    if version != int(version) or not 1 <= version <= VERSION:
        return (
            f"expected a whole number from 1 to {VERSION}, the newest version known here; received {received(version)}"
        )
    if base.version not in (None, version):
        return f"expected one version for the whole pack; it began with {base.version:g}"
    return None


def _value_complaints(record: Mapping[str, Any], base: _Base) -> dict[str, list[str]] | list[str]:
    given = [label for label in _VALUES if label in record]
    if len(given) > 1:
        return {given[1]: [f"expected one value in a record; there is {given[0]} too"]}
    based = record.get("bv", base.value), record.get("bs", base.sum)
    if not given and "s" not in record and based == (None, None):
        return [f"expected a value: one of {', '.join(_VALUES)}"]
    return []
