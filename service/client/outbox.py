"""The readings of one cook, in the order in which they came: what the service has, and what it has yet to get.

A reading is sent until a post that holds it was answered. It may arrive twice, when only the answer was lost, which
changes nothing: on the other side the cook is a set.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

LATEST_S = 7200.0
MOST_IN_A_POST = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Readings for one post.

    Attributes:
        readings: as a post holds them.
        end: the place in the outbox after the last of them.
        is_all: whether nothing is left to send after these.
    """

    readings: Mapping[str, list[Any]]
    end: int
    is_all: bool


class Outbox:
    """Keeps every reading of a cook. Any thread may put readings in; one takes them out."""

    def __init__(self) -> None:
        self._kept: list[tuple[str, Any]] = []
        self._sent = 0

    def pop(self, t_s: float) -> None:
        """A pop that was heard at this time on the cook clock (s). Raises ValueError, as all of these do."""
        self._kept.append(("pops", _time(t_s)))

    def humidity(self, t_s: float, rh_pct: float, air_c: float | None) -> None:
        """Relative humidity (%), with the temperature of the air (degrees Celsius) where it is known."""
        reading = {"t": _time(t_s), "rh_pct": _number("rh_pct", rh_pct, 0.0, 100.0)}
        if air_c is not None:
            reading["air_c"] = _number("air_c", air_c, -50.0, 300.0)
        self._kept.append(("humidity", reading))

    def power(self, t_s: float, level: float) -> None:
        """Share of full power from this time on."""
        self._kept.append(("power", {"t": _time(t_s), "level": _number("level", level, 0.0, 1.0)}))

    def restart(self, t_s: float) -> None:
        """A deliberate start after a stop."""
        self._kept.append(("restarts", _time(t_s)))

    @property
    def unsent(self) -> int:
        """How many readings no answered post has held yet."""
        return len(self._kept) - self._sent

    def batch(self) -> Batch:
        """The oldest readings that have yet to be sent, as many as a post takes."""
        end = min(len(self._kept), self._sent + MOST_IN_A_POST)
        readings: dict[str, list[Any]] = {}
        for kind, reading in self._kept[self._sent : end]:
            readings.setdefault(kind, []).append(reading)
        return Batch(readings=readings, end=end, is_all=end == len(self._kept))

    def answered(self, batch: Batch) -> None:
        """The service has these now."""
        self._sent = batch.end

    def begin_again(self) -> None:
        """The service has nothing now: all of the cook is to be sent once more."""
        self._sent = 0


def _time(t_s: float) -> float:
    return _number("t", t_s, 0.0, LATEST_S)


def _number(name: str, value: float, low: float, high: float) -> float:
    if not (math.isfinite(value) and low <= value <= high):
        raise ValueError(f"{name}: expected {low:g} to {high:g}; received {value!r}")
    return round(float(value), 3)
