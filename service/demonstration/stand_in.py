"""An oven with its sensors to try a hub on before there is one: it heats nothing, and reads what an invented cook read."""

import json
import threading
import time
from collections.abc import Iterator
from importlib.resources import files
from typing import Any

from service.client import Edge


class StandIn:
    """An oven and its sensors, on a clock that may run faster than the one on the wall."""

    def __init__(self, speed: float = 1.0, log: str = "popcorn.ndjson") -> None:
        """`speed`: seconds of the cook in a second. `log`: the name of an invented cook that comes with the service."""
        self._speed = speed
        self._on_s: float | None = None
        lines = (files(__package__) / log).read_text(encoding="utf-8").splitlines()
        readings = [post["readings"] for post in map(json.loads, lines) if "readings" in post]
        self._pops_s = sorted(t_s for one in readings for t_s in one.get("pops", ()))
        self._humidity = sorted((row for one in readings for row in one.get("humidity", ())), key=lambda row: row["t"])

    def clock(self) -> float:
        """Seconds, never set back."""
        return time.monotonic() * self._speed

    def edge(self) -> Edge:
        """The machine with this clock, for a session."""
        waiting = threading.Event()
        return Edge(clock=self.clock, wait=lambda for_s: waiting.wait(for_s / self._speed))

    def switch_on(self) -> None:
        """Begin the cook."""
        self._on_s = self.clock()

    def switch_off(self) -> None:
        """End it; it may have ended before."""
        self._on_s = None

    @property
    def is_on(self) -> bool:
        """Whether it would be heating."""
        return self._on_s is not None

    def new_pops(self) -> Iterator[float]:
        """How long ago each pop was heard that has not been told yet (s)."""
        while self._pops_s and self._pops_s[0] <= self._cooked_s():
            yield self._cooked_s() - self._pops_s.pop(0)

    def new_humidity(self) -> Iterator[tuple[float, float | None]]:
        """Relative humidity (%) and the temperature of the air (°C), of each reading that has not been told yet."""
        while self._humidity and self._humidity[0]["t"] <= self._cooked_s():
            row: dict[str, Any] = self._humidity.pop(0)
            yield row["rh_pct"], row.get("air_c")

    def _cooked_s(self) -> float:
        return -1.0 if self._on_s is None else self.clock() - self._on_s
