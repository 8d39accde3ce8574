"""Simulated cooks of one oven as a person ended them: the labels that a profile is fitted from."""

import json
from dataclasses import asdict, replace

import numpy as np

from service.calibration.trace import CookTrace, cook_trace
from service.outcomes.finished import FinishedCook
from service.outcomes.outcome import Outcome
from service.programs.programme import shipped
from service.readings.cook import NO_AIR
from service.readings.setup import Setup
from tests.calibration.one_oven import UNUSUAL, BagCooked, bag_in, drawn_oven
from tests.simulation.popcorn_kinds import Recipe

POPCORN = shipped()["popcorn"]
SIZES = ("snack", "regular", "jumbo")
HAND_SD_S = 2.0
"""How closely a person stops at the typical moment (invented)."""


def oven_of(kind: str, seed: int) -> Recipe:
    """An oven of an unusual kind, or a usual one."""
    return drawn_oven(seed, UNUSUAL.get(kind))


def bags_of(kind: str, seed: int, cooks: int) -> list[BagCooked]:
    """Bags of three sizes cooked in it, one after the other."""
    oven = oven_of(kind, seed)
    return [bag_in(oven, SIZES[cook % 3], 1000 * seed + cook) for cook in range(cooks)]


def ended_by_hand(bag: BagCooked, late_s: float) -> FinishedCook:
    """The bag as a person ended it, so much later than the typical moment."""
    outcome = Outcome(stopped_s=round(bag.window.typical_s + late_s, 1), stopped_by="person")
    return FinishedCook(setup=Setup(rated_w=bag.rated_w, load_g=bag.printed_g), cook=bag.cook, outcome=outcome)


def traces_of(bags: list[BagCooked], seed: int, hand_sd_s: float = HAND_SD_S) -> list[CookTrace]:
    """What each of them shows."""
    late_s = np.random.default_rng([3, seed]).normal(0.0, hand_sd_s, len(bags)) if hand_sd_s else np.zeros(len(bags))
    return [cook_trace(ended_by_hand(bag, late), POPCORN) for bag, late in zip(bags, late_s.tolist(), strict=True)]


def log_of(finished: FinishedCook) -> bytes:
    """The cook as a log: everything in one post, and what was found."""
    cook, setup = finished.cook, finished.setup
    humidity = [
        {"t": t_ms / 1000.0, "rh_pct": permille / 10.0}
        | ({} if decidegrees == NO_AIR else {"air_c": decidegrees / 10.0})
        for t_ms, permille, decidegrees in zip(
            cook.humidity_ms.tolist(), cook.humidity_permille.tolist(), cook.air_decidegrees.tolist(), strict=True
        )
    ]
    power = [
        {"t": t_ms / 1000.0, "level": permille / 1000.0}
        for t_ms, permille in zip(cook.power_ms.tolist(), cook.power_permille.tolist(), strict=True)
    ]
    post = {
        "program": "popcorn",
        "setup": {"rated_w": setup.rated_w, "load_g": setup.load_g},
        "readings": {"pops": (cook.pops_ms / 1000.0).tolist(), "humidity": humidity, "power": power},
    }
    said = {name: value for name, value in asdict(finished.outcome).items() if value is not None}
    return b"".join(json.dumps(line).encode() + b"\n" for line in (post, {"outcome": said}))


def without_setup(finished: FinishedCook) -> FinishedCook:
    """The same cook, of which nobody says the rating or the mass."""
    return replace(finished, setup=Setup())
