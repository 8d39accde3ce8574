"""Lists of readings, checked as columns: thousands of readings cost little more than a few.

A column is checked by the set of its types, its least, its greatest and its sum; only when something is wrong is the
list walked again to say where.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

from marshmallow import ValidationError

from schemas.strict import MOST_MESSAGES, Strict, expected_number, no_field, received

Row = tuple[float | None, ...]

LATEST_S = 7200.0
_NUMBERS, _OBJECTS = frozenset((int, float)), frozenset((dict,))


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One key of the objects in a list: its range (both ends taken), its unit, and whether it may be left out."""

    key: str
    low: float
    high: float
    unit: str
    says: str
    optional: bool = False

    def complaint(self, cell: object) -> str | None:
        """What is wrong with a value, or None."""
        if type(cell) in (int, float) and self.low <= cell <= self.high:  # type: ignore[operator]
            return None
        return f"expected {expected_number(self.low, self.high, self.unit)}; received {received(cell)}"


TIME = Column(key="t", low=0.0, high=LATEST_S, unit="s", says="when, on the cook clock")


class Times(Strict[list[float]]):
    """A list of times in seconds on the cook clock, in any order."""

    def taken(self, value: Any) -> list[float]:
        cells = _list(value)
        if not _all_right(cells, TIME):
            complaints = ((at, TIME.complaint(cell)) for at, cell in enumerate(cells))
            raise ValidationError(_first((at, [said]) for at, said in complaints if said))
        return cells


class Rows(Strict[list[Row]]):
    """A list of objects with one number a column. Loaded as rows of these numbers, None where one is left out."""

    def __init__(self, *columns: Column, says: str) -> None:
        super().__init__(says=says)
        self.columns = columns

    def taken(self, value: Any) -> list[Row]:
        rows = _list(value)
        table = self._table(rows)
        if table is None:
            complaints = ((at, self._complaints(row)) for at, row in enumerate(rows))
            raise ValidationError(_first((at, said) for at, said in complaints if said))
        return table

    def _table(self, rows: Sequence[Any]) -> list[Row] | None:
        """The whole table, or None if anything at all is wrong with it."""
        if not _OBJECTS.issuperset(map(type, rows)):
            return None
        table = []
        many, strangers = len(rows), sum(map(len, rows))
        for column in self.columns:
            key = column.key
            cells = [row[key] for row in rows if key in row]
            known = len(cells)
            if not _all_right(cells, column) or (known < many and not column.optional):
                return None
            strangers -= known
            table.append(cells if known == many else [row.get(key) for row in rows])
        return None if strangers else list(zip(*table, strict=True))

    def _complaints(self, row: object) -> list[str] | dict[str, list[str]]:
        if not isinstance(row, dict):
            return [f"expected an object; received {received(row)}"]
        found = {}
        for column in self.columns:
            if column.key not in row:
                said = None if column.optional else "this field is required"
            else:
                said = column.complaint(row[column.key])
            if said:
                found[column.key] = [said]
        known = [column.key for column in self.columns]
        strangers = sorted(row.keys() - {*known})
        return found | {key: [no_field(known)] for key in strangers[:MOST_MESSAGES]}


def _list(value: object) -> list[Any]:
    if not isinstance(value, list):
        raise ValidationError(f"expected a list; received {received(value)}")
    return value


def _all_right(cells: list[Any], column: Column) -> bool:
    if not cells:
        return True
    # min and max can overlook a NaN, which a sum cannot.
    return (
        _NUMBERS.issuperset(map(type, cells))
        and column.low <= min(cells)
        and max(cells) <= column.high
        and not math.isnan(sum(cells))
    )


def _first(complaints: Iterable[tuple[int, Any]]) -> dict[Any, Any]:
    return dict(islice(complaints, MOST_MESSAGES))
