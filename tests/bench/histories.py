"""Invented cooks with a history of a given length, and the post that comes next."""

import json
from dataclasses import dataclass
from typing import Any

import numpy as np

from service.readings.cook import Cook
from tests.cooks import FloatArray, humidity_rows, steam_g_m3

AS_OF_S = 112.0
STEAM_S = 92.0
_PEAK_S, _SPREAD_S = 98.0, 13.0


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """A bag of so many pops until the second before AS_OF_S, and what that second brings.

    Attributes:
        before, lately: the readings as a post names them.
    """

    before: dict[str, Any]
    lately: dict[str, Any]

    def cook(self) -> Cook:
        """All of it."""
        both = [read(part) for part in (self.before, self.lately)]
        return both[0].merged(both[1])


def history(pops: int, *, humidity: int = 112, seed: int = 0) -> History:
    """Pops normal about the peak, of which as many came before; a humidity reading a second, or however many fit."""
    rng = np.random.default_rng(seed)
    drawn: FloatArray = np.empty(0)
    while drawn.size < pops:
        more = np.round(rng.normal(_PEAK_S, _SPREAD_S, 2 * pops + 20), 3)
        drawn = np.unique(np.concatenate((drawn, more[(more > 1.0) & (more < AS_OF_S - 1.0)])))
    before = np.sort(rng.permutation(drawn)[:pops])
    t_s = np.linspace(0.0, AS_OF_S - 1.0, humidity)
    vapour = 9.0 + rng.normal(0.0, 0.05, humidity) + steam_g_m3(t_s, released_s=STEAM_S, lag_s=3.0)
    rows = humidity_rows(t_s, vapour)
    lately = np.round(rng.uniform(AS_OF_S - 1.0, AS_OF_S, max(min(pops // 80, 8), 1)), 3)
    last = rows[-1].round(1).tolist()
    return History(
        before={"pops": before.tolist(), "humidity": [_reading(*row) for row in rows.round(3).tolist()]},
        lately={"pops": np.sort(lately).tolist(), "humidity": [_reading(AS_OF_S - 0.1, last[1], last[2])]},
    )


def read(readings: dict[str, Any]) -> Cook:
    """The cook of the readings of a post."""
    rows = [(one["t"], one["rh_pct"], one["air_c"]) for one in readings["humidity"]]
    return Cook.of(pops_s=readings["pops"], humidity=rows)


def body(**fields: Any) -> bytes:
    """A post as it goes over the wire."""
    return json.dumps(fields, separators=(",", ":")).encode()


def _reading(t_s: float, rh_pct: float, air_c: float) -> dict[str, float]:
    return {"t": t_s, "rh_pct": round(rh_pct, 1), "air_c": round(air_c, 1)}
