"""A decision request as a SenML pack: what the names of its records mean, and where its times lie on the cook clock.

A record is known by the last part of its name, after the last `:`, `/` or `.`:

    humidity   relative humidity in the exhaust air, in %RH
    air        temperature of that air in Cel, at the very time of a humidity
    pop        a pop was heard then: `vb` true, or `v` 1
    power      share of full power from then on, in / (0 to 1)
    restart    heating was deliberately started again then: `vb` true, or `v` 1
    start      the cook was started then: `vb` true, or `v` 1
    as_of      the moment asked about in seconds on the cook clock, in s
    interval_pct, program, setup, state   as in a request in JSON; the last three are texts (`vs`), setup a JSON text

`start`, `as_of`, `interval_pct`, `program`, `setup` and `state` may be said outside the pack instead, but not twice.

A time since 1970 becomes one on the cook clock by taking the start from it. A time from now does the same with a start
from now; without one, now is `as_of`. A pack of any other record is refused, as a whole.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

from marshmallow import ValidationError

from schemas.columns import LATEST_S, TIME, Column
from schemas.readings import AIR, LEVEL, RH
from schemas.request import DecisionRequest, DecisionRequestSchema
from schemas.senml import ABSOLUTE_S, Record, resolved
from schemas.strict import MOST_MESSAGES, Number, received

SAID = ("start", "as_of", "interval_pct", "program", "setup", "state")
"""What may also be said outside the pack."""

_EVENTS = ("pop", "restart", "start")
_TEXTS = ("program", "setup", "state")
_NUMBERS = {"as_of": ("s", None), "interval_pct": (None,)}
_MEASURED: Mapping[str, tuple[str, Column]] = {"humidity": ("%RH", RH), "air": ("Cel", AIR), "power": ("/", LEVEL)}
_KNOWN = (*_MEASURED, *_EVENTS, *_NUMBERS, *_TEXTS)
_LAST_PART = re.compile(r"[^:/.]*\Z")
_CLOCK = {"start": Number(-1e12, 1e12, "s"), "as_of": Number(0.0, LATEST_S, "s")}
_REQUEST = DecisionRequestSchema()


def request_of(pack: object, said: Mapping[str, str], parse: Callable[[str], Any]) -> DecisionRequest:
    """The request that a pack makes, together with what was said outside it under names of SAID.

    `parse` reads a JSON text and raises ValueError. Raises ValidationError, its messages by place in the pack and by
    label, or by name for what may be said outside.
    """
    records = resolved(pack)
    _refuse({record.at: wrong for record in records if (wrong := _complaint(record))})
    post = _said_inside([record for record in records if _kind(record) in SAID])
    _refuse({name: ["this was said inside the pack and outside it"] for name in said if name in post})
    post = _read({**post, **said}, said, parse)
    clock = _Clock(start_s=post.pop("start", None), as_of_s=post.get("as_of"))
    if clock.now_s is not None:
        post["as_of"] = clock.now_s
    request: DecisionRequest = _REQUEST.taken(post | {"readings": _readings(records, clock)})
    return request


@dataclass(frozen=True, slots=True, kw_only=True)
class _Clock:
    """Where the times of a pack lie on the cook clock."""

    start_s: float | None
    as_of_s: float | None

    @property
    def now_s(self) -> float | None:
        """Now on the cook clock, None where only the caller can know."""
        if self.as_of_s is None and self.start_s is not None and self.start_s < ABSOLUTE_S:
            return round(-self.start_s, 3)
        return self.as_of_s

    def cook_s(self, record: Record) -> float | str:
        """The time of a record on the cook clock, or what is missing to tell."""
        if self.start_s is not None and record.is_absolute == (self.start_s >= ABSOLUTE_S):
            return round(record.time_s - self.start_s, 6)
        if record.is_absolute:
            return "a time since 1970 needs a start since 1970: a record of that name, or start outside the pack"
        if self.as_of_s is None:
            return "a time from now needs as_of, or a start from now"
        return round(self.as_of_s + record.time_s, 6)


def _kind(record: Record) -> str:
    return _LAST_PART.search(record.name)[0]  # type: ignore[index]


def _complaint(record: Record) -> dict[str, list[str]]:
    """What is wrong with a record for what it is, without its time."""
    kind, value = _kind(record), record.value
    if kind in _MEASURED:
        unit, column = _MEASURED[kind]
        return _number_complaint(record, (unit,), column.complaint(value))
    if kind in _NUMBERS:
        return _number_complaint(record, _NUMBERS[kind], None)
    if kind in _TEXTS:
        return {} if isinstance(value, str) else {"vs": [f"expected a text for {kind}"]}
    if kind in _EVENTS:
        happened = value is True or (not isinstance(value, bool) and value == 1 and record.unit in (None, "count"))
        return {} if happened else {"vb": [f"expected true, or v 1, for a {kind}"]}
    return {"n": [f"expected a name that ends in one of: {', '.join(_KNOWN)}"]}


def _number_complaint(record: Record, units: tuple[str | None, ...], wrong: str | None) -> dict[str, list[str]]:
    if record.unit not in units:
        return {"u": [f"expected {units[0] or 'no unit'} for {_kind(record)}; received {record.unit or 'no unit'}"]}
    if type(record.value) not in (int, float):
        return {"v": [f"expected a number for {_kind(record)}; received {received(record.value)}"]}
    return {"v": [wrong]} if wrong else {}


def _said_inside(records: Sequence[Record]) -> dict[str, Any]:
    post: dict[str, Any] = {}
    for record in records:
        kind = _kind(record)
        if kind in post:
            raise ValidationError({record.at: {"n": [f"there is more than one {kind}"]}})
        post[kind] = record.time_s if kind == "start" else record.value
    return post


def _read(post: dict[str, Any], said: Mapping[str, str], parse: Callable[[str], Any]) -> dict[str, Any]:
    """What was said, read: the setup is a JSON text wherever it was said, and outside the pack the numbers are."""
    read = dict(post)
    for name in ("setup", *(name for name in ("start", *_NUMBERS) if name in said)):
        if name in read:
            try:
                read[name] = parse(read[name])
            except ValueError as error:
                raise ValidationError({name: [f"expected a JSON text: {error}"]}) from error
    for name, number in _CLOCK.items():
        if name in read:
            try:
                read[name] = number.taken(read[name])
            except ValidationError as error:
                raise ValidationError({name: error.messages}) from error
    return read


def _readings(records: Sequence[Record], clock: _Clock) -> dict[str, list[Any]]:
    """The readings as a request in JSON has them."""
    timed: dict[str, list[tuple[float, Any]]] = {}
    wrong: dict[int, dict[str, list[str]]] = {}
    for record in records:
        if _kind(record) in SAID:
            continue
        cook_s = clock.cook_s(record)
        if isinstance(cook_s, str):
            wrong[record.at] = {"t": [cook_s]}
        elif said := TIME.complaint(cook_s):
            wrong[record.at] = {"t": [said]}
        else:
            timed.setdefault(_kind(record), []).append((cook_s, record))
    _refuse(wrong)
    return {
        "pops": [cook_s for cook_s, _ in timed.get("pop", ())],
        "humidity": _humidity(timed.get("humidity", ()), timed.get("air", ())),
        "power": [{"t": cook_s, "level": record.value} for cook_s, record in timed.get("power", ())],
        "restarts": [cook_s for cook_s, _ in timed.get("restart", ())],
    }


def _humidity(humid: Sequence[tuple[float, Any]], warm: Sequence[tuple[float, Any]]) -> list[dict[str, float]]:
    """Humidity with the temperature of the same millisecond beside it; of several the highest, whatever their order."""
    air: dict[int, Any] = {}
    for cook_s, record in warm:
        at_ms = round(cook_s * 1000)
        air[at_ms] = max(record.value, air.get(at_ms, record.value))
    lone = air.keys() - {round(cook_s * 1000) for cook_s, _ in humid}
    _refuse({r.at: {"t": ["no humidity has this time"]} for cook_s, r in warm if round(cook_s * 1000) in lone})
    rows: list[dict[str, Any]] = []
    for cook_s, record in humid:
        beside = air.get(round(cook_s * 1000))
        rows.append({"t": cook_s, "rh_pct": record.value} | ({} if beside is None else {"air_c": beside}))
    return rows


def _refuse(wrong: Mapping[Any, Any]) -> None:
    """Raise ValidationError with these messages, if there are any."""
    if wrong:
        raise ValidationError(dict(islice(wrong.items(), MOST_MESSAGES)))
