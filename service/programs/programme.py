"""A cooking programme: every number that can be argued with, beside its unit, its source and a note.

A programme is a TOML file::

    name = "popcorn"
    summary = "A sealed bag, led by the sound of popping and by its steam."
    led_by = ["acoustic", "moisture"]
    cautions = ["Open the bag away from the face: the steam scalds."]

    [values.gap_s]
    value = 2.0
    unit = "s"
    source = "common practice, no source"
    note = "The silence between pops that ends the cook."

`source` is a citation, `common practice, no source`, or `invented`. A number without all four of value, unit, source
and note is refused: a threshold that nobody can question is not data. A programme that differs from another in some numbers
alone says ``like = "reheat"`` and states only those.

`safe_core_c` may be raised and never lowered below LEAST_SAFE_CORE_C.
"""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

Numbers = TypeVar("Numbers", bound="DataclassInstance")
SENSORS = ("acoustic", "moisture")
LEAST_SAFE_CORE_C = 74.0
"""What food must reach in all its parts in a microwave oven: 165 degF (74 degC), FDA Food Code (2022) 3-401.12."""


_FAR = 1e12
"""No number of a programme is further from 0 than this, nor infinite, nor NaN."""


class ProgrammeError(ValueError):
    """A programme that cannot be used; the text names the file, if it is one, and what is missing or wrong.

    Attributes:
        says: what is missing or wrong there.
        at: the names that lead to it, from the outermost.
    """

    def __init__(self, says: str, at: tuple[str, ...] = ()) -> None:
        super().__init__(f"{'.'.join(at)}: {says}" if at else says)
        self.says = says
        self.at = at


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """One number of a programme.

    Attributes:
        value: the number, in `unit`.
        unit: its unit as written in the file; `1` for a ratio or a count.
        source: a citation, `common practice, no source`, or `invented`.
        note: what the number does, in a sentence.
    """

    value: float
    unit: str
    source: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Programme:
    """What a cook is, as data. Compared and hashed by identity, so that work done once for it can be remembered.

    Attributes:
        name: as a request names it.
        summary: one sentence for a list.
        led_by: the sensors that the programme listens to, out of `SENSORS`.
        cautions: safety sentences that hold for every cook of this programme.
        values: the numbers by name.
    """

    name: str
    summary: str
    led_by: tuple[str, ...]
    cautions: tuple[str, ...]
    values: Mapping[str, Value]

    def number(self, key: str) -> float:
        """The bare number of `key`. Raises KeyError, naming the programme and the key, when it has no such value."""
        found = self.values.get(key)
        if found is None:
            raise KeyError(f"programme {self.name!r} has no value {key!r}; it has: {', '.join(sorted(self.values))}")
        return found.value

    def numbers(self, kind: type[Numbers]) -> Numbers:
        """An instance of a dataclass of floats, each field filled by the number of the same name; KeyError as above."""
        return kind(**{field.name: self.number(field.name) for field in fields(kind)})


def load(path: Traversable) -> Programme:
    """Read and check one programme file (a `pathlib.Path`, or a file inside a package).

    Raises ProgrammeError, naming the file, for text that is not TOML, for a missing or mistyped entry, for an entry
    that no programme has, and for a number without its value, unit, source or note.
    """
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        return programme_of(_completed(table))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, ProgrammeError) as error:
        raise ProgrammeError(f"{path.name}: {error}") from error


@cache
def shipped() -> Mapping[str, Programme]:
    """The programmes that come with the service, by name, in alphabetical order. Read once in a process."""
    found = sorted((file for file in files(__package__).iterdir() if file.name.endswith(".toml")), key=lambda f: f.name)
    programmes = {}
    for file in found:
        programme = load(file)
        if file.name != f"{programme.name}.toml":
            raise ProgrammeError(f"{file.name}: the programme inside is named {programme.name!r}")
        programmes[programme.name] = programme
    return MappingProxyType(programmes)


def _completed(table: dict[str, object]) -> dict[str, object]:
    """A table with the numbers of the shipped programme that it is like, where it is like one and has none of its own."""
    like, own = table.pop("like", None), table.get("values", {})
    if like is None:
        return table
    name = _text({"like": like}, "like")
    file = files(__package__) / f"{name}.toml"
    if not name.isidentifier() or not file.is_file() or not isinstance(own, Mapping):
        raise ProgrammeError(f"there is no programme {name!r} whose numbers could be taken over", ("like",))
    return {**table, "values": {**tomllib.loads(file.read_text(encoding="utf-8"))["values"], **own}}


def programme_of(table: Mapping[str, object]) -> Programme:
    """A programme from its parts, as a file or a posted object has them. Raises ProgrammeError as `load` does."""
    _refuse_other_keys(table, ("name", "summary", "led_by", "cautions", "values"))
    led_by = _texts(table, "led_by")
    if not led_by or not set(led_by) <= set(SENSORS) or len(set(led_by)) < len(led_by):
        raise ProgrammeError(f"expected some of {', '.join(SENSORS)}, each once; received {list(led_by)}", ("led_by",))
    values = table.get("values")
    if not isinstance(values, Mapping) or not values:
        raise ProgrammeError("expected at least one number, such as gap_s, with its parts", ("values",))
    return Programme(
        name=_text(table, "name"),
        summary=_text(table, "summary"),
        led_by=led_by,
        cautions=_texts(table, "cautions"),
        values=MappingProxyType({key: _value(key, entry) for key, entry in values.items()}),
    )


def _value(key: str, entry: object) -> Value:
    at = ("values", key)
    if not isinstance(entry, Mapping):
        raise ProgrammeError("expected value, unit, source and note", at)
    _refuse_other_keys(entry, ("value", "unit", "source", "note"), at)
    value = entry.get("value")
    if isinstance(value, bool) or not isinstance(value, int | float) or not -_FAR <= value <= _FAR:
        raise ProgrammeError(f"expected a finite number; {_received(entry, 'value')}", (*at, "value"))
    if key == "safe_core_c" and value < LEAST_SAFE_CORE_C:
        says = f"expected {LEAST_SAFE_CORE_C:g} degC or more, below which food is not safe; received {value!r}"
        raise ProgrammeError(says, (*at, "value"))
    unit, source, note = (_text(entry, part, at) for part in ("unit", "source", "note"))
    return Value(value=float(value), unit=unit, source=source, note=note)


def _text(table: Mapping[str, object], key: str, at: tuple[str, ...] = ()) -> str:
    text = table.get(key)
    if not isinstance(text, str) or not text.strip():
        raise ProgrammeError(f"expected a text that says something; {_received(table, key)}", (*at, key))
    return text


def _texts(table: Mapping[str, object], key: str) -> tuple[str, ...]:
    texts = table.get(key)
    if not isinstance(texts, list) or not all(isinstance(text, str) and text.strip() for text in texts):
        raise ProgrammeError(f"expected a list of texts; {_received(table, key)}", (key,))
    return tuple(texts)


def _refuse_other_keys(table: Mapping[str, object], known: Sequence[str], at: tuple[str, ...] = ()) -> None:
    if others := sorted(set(table) - set(known)):
        raise ProgrammeError(f"there is no such part; there are: {', '.join(known)}", (*at, others[0]))


def _received(table: Mapping[str, object], key: str) -> str:
    return f"received {table[key]!r}" if key in table else "it is missing"
