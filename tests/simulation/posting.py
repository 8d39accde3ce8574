"""From what happened in a cook to what a hub would have posted about it."""

import zlib
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.simulation.network import Link, Post, Reading, clean_log, network_log
from tests.simulation.oven import PowerPlan, PowerReadings
from tests.simulation.sensors import HumidityReadings

ATTEMPTS = 60
RUNS_ON_S = 40.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedCook:
    """A log of decision requests as they are posted, and the truth about the cook behind it."""

    kind: str
    seed: int
    network: bool
    log: list[Post]
    truth: dict[str, Any]

    @property
    def name(self) -> str:
        """Kind, seed and link."""
        return f"{self.kind}-{self.seed}-{'network' if self.network else 'clean'}"

    @property
    def program(self) -> str:
        """The programme that the log asks for."""
        return str(self.log[0]["program"])

    @property
    def says_setup(self) -> bool:
        """Whether the log says what the oven and the load are."""
        return "setup" in self.log[0]


def attempts(label: str, seed: int) -> list[np.random.SeedSequence]:
    """Seeds for drawing one cook until one is worth cooking."""
    return np.random.SeedSequence([zlib.crc32(label.encode()), seed]).spawn(ATTEMPTS)


def setup_of(rated_w: float, load_g: float, rounded: float) -> dict[str, float]:
    """What a hub says of oven and load, one in two rounding the watts to 50; `rounded` is a draw between 0 and 1."""
    watts = 50.0 if rounded < 0.5 else 1.0
    return {"rated_w": float(round(rated_w / watts) * watts), "load_g": float(round(load_g))}


def humidity_posted(readings: HumidityReadings) -> list[Reading]:
    """Readings of humidity in the wire's names."""
    return [
        (t, "humidity", {"t": t, "rh_pct": rh_pct} if air_c is None else {"t": t, "rh_pct": rh_pct, "air_c": air_c})
        for t, rh_pct, air_c in readings
    ]


def power_posted(plan: PowerPlan, readings: PowerReadings) -> list[Reading]:
    """Readings of power in the wire's names. Some ovens that do nothing but run never say so."""
    if len(readings) > 1 or readings[0][1] < 1.0 or plan.said < 0.9:
        return [(t, "power", {"t": t, "level": level}) for t, level in readings]
    return []


def posts(
    readings: list[Reading], head: Post, until_s: float, bad: tuple[Link, np.random.Generator] | None
) -> list[Post]:
    """The readings up to the end, over a clean link where no bad one is given."""
    in_order = sorted((one for one in readings if one[0] <= until_s), key=lambda one: one[0])
    return clean_log(in_order, head, until_s) if bad is None else network_log(in_order, head, until_s, bad)
