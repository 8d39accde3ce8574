"""The kinds of reheat: what each part of a cook ranges over, usually and in each kind.

Every number here is invented: a uniform range (low, high) of one field of one part. A kind states only what it changes.
The air, its sensor, the power and the link are those of popcorn cooks where nothing else is said.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from tests.simulation import popcorn_kinds
from tests.simulation.cover import Cover
from tests.simulation.drawing import ALWAYS, NEVER, Changes, Ranges, drawn_parts
from tests.simulation.elsewhere_kinds import ELSEWHERE
from tests.simulation.heating_food import Magnetron
from tests.simulation.meals import Meal
from tests.simulation.network import Link
from tests.simulation.oven import PowerPlan
from tests.simulation.sensor_faults import SensorFaults
from tests.simulation.sensors import Air, HumiditySensor
from tests.simulation.surroundings import Surroundings


@dataclass(frozen=True, slots=True, kw_only=True)
class ReheatRecipe:
    """Everything that one reheat is drawn from."""

    meal: Meal
    magnetron: Magnetron
    cover: Cover
    power: PowerPlan
    air: Air
    humidity: HumiditySensor
    link: Link
    surroundings: Surroundings
    faults: SensorFaults


PARTS: Mapping[str, type] = {
    "meal": Meal,
    "magnetron": Magnetron,
    "cover": Cover,
    "power": PowerPlan,
    "air": Air,
    "humidity": HumiditySensor,
    "link": Link,
    "surroundings": Surroundings,
    "faults": SensorFaults,
}

NO_COVER: Ranges = {"vent_l_s": (3.0, 8.0), "space_l": (1.0, 2.0), "area_m2": NEVER}
CORNER_OPEN: Ranges = {"vent_l_s": (0.1, 0.4), "heat_j_k": (5.0, 20.0)}
LOOSE: Ranges = {"vent_l_s": (0.15, 0.6), "heat_j_k": (60.0, 160.0), "area_m2": (0.035, 0.07)}
TIGHT: Ranges = {"vent_l_s": (0.01, 0.05), "heat_j_k": (80.0, 200.0), "area_m2": (0.03, 0.06)}

# A liquid is one piece that mixes by itself; its steam comes out through the whole of it.
LIQUID: Ranges = {
    "pieces": ALWAYS,
    "half_depth_cm": (2.5, 4.0),
    "roundness": (1.5, 2.2),
    "penetration_cm": (1.3, 2.5),
    "mixing_w_g_k": (0.015, 0.06),
    "porous_share": (0.6, 0.9),
    "wet_share": (0.15, 0.4),
}

USUAL: Changes = {
    "meal": {
        "load_g": (230.0, 450.0),
        "start_c": (3.0, 24.0),
        "water_share": (0.62, 0.78),
        "protein_share": (0.04, 0.16),
        "fat_share": (0.02, 0.12),
        "freezes_c": (-2.2, -1.2),
        "pieces": (0.5, 2.9),
        "uneven_mass": (0.1, 0.5),
        # A turntable carries every piece through much the same field. A meal on a plate is heaped four centimetres deep or a
        # little more; what is thicker is a kind of its own ("dense").
        "uneven_field": (0.03, 0.13),
        "half_depth_cm": (1.92, 2.28),
        "roundness": (1.2, 2.0),
        "penetration_cm": (1.32, 1.58),
        "focus": (0.0, 0.15),
        "cold_spot": (0.76, 1.0),
        "conducts_w_m_k": (0.4, 0.65),
        "mixing_w_g_k": NEVER,
        "porous_share": (0.05, 0.35),
        "wet_share": (0.1, 0.4),
        "bears_loss_share": (0.11, 0.21),
        "dish_g": (150.0, 500.0),
        "dish_w_k": (0.3, 1.2),
        "stirred_share": NEVER,
    },
    "magnetron": {
        "rated_w": (720.0, 1150.0),
        "output_share": (0.86, 1.03),
        "warm_droop": (0.0, 0.09),
        # So that a cup of water boils when it is published to: tests/simulation/test_reheat_simulator.py.
        "half_load_g": (50.0, 120.0),
        "turntable_s": (8.0, 14.0),
        "ripple_share": (0.0, 0.06),
        "dish_share": (0.0, 0.06),
        "altitude_m": (0.0, 500.0),
    },
    "cover": {
        "vent_l_s": (0.1, 0.5),
        "space_l": (0.3, 1.2),
        "area_m2": (0.02, 0.05),
        "heat_j_k": (5.0, 60.0),
        "transfer_m_s": (0.003, 0.008),
    },
    "power": {**popcorn_kinds.USUAL["power"], "pause_at_s": (35.0, 80.0)},
    "air": {**popcorn_kinds.USUAL["air"], "flush_s": (1.2, 5.0), "warms_by_k": (10.0, 26.0)},
    "humidity": popcorn_kinds.USUAL["humidity"],
    "link": popcorn_kinds.USUAL["link"],
    "surroundings": popcorn_kinds.NOTHING_AROUND,
    "faults": popcorn_kinds.NO_FAULTS,
}

_WIDER: Changes = {
    "meal": {
        "freezes_c": (-1.5, -0.6),
        "pieces": (0.5, 3.5),
        "uneven_mass": (0.1, 0.6),
        "uneven_field": (0.03, 0.15),
        "half_depth_cm": (1.7, 2.3),
        "penetration_cm": (1.2, 1.9),
        "cold_spot": (0.65, 1.0),
    },
    "magnetron": {"output_share": (0.82, 1.03), "half_load_g": (40.0, 130.0)},
}

WIDE: Changes = {**USUAL, **{part: {**USUAL[part], **ranges} for part, ranges in _WIDER.items()}}

KINDS: Mapping[str, Changes] = {
    "plate": {},
    "soup": {
        "meal": {**LIQUID, "water_share": (0.84, 0.93), "load_g": (200.0, 360.0), "bears_loss_share": (0.04, 0.07)}
    },
    "small": {"meal": {"load_g": (130.0, 215.0)}},
    "large": {"meal": {"load_g": (550.0, 780.0)}},
    "frozen-start": {"meal": {"start_c": (-2.5, 0.0), "bears_loss_share": (0.15, 0.25)}},
    "weak-oven": {"magnetron": {"rated_w": (450.0, 600.0), "output_share": (0.85, 1.05)}},
    "covered-loose": {"cover": LOOSE},
    "humid-kitchen": {"air": {"kitchen_rh_pct": (65.0, 88.0)}},
    "vent-away": popcorn_kinds.KINDS["vent-away"],
    "opened-midway": {"power": {"pause_s": (8.0, 30.0)}},
}

EXTRA_KINDS: Mapping[str, Changes] = {
    "no-cover": {"cover": NO_COVER},
    "covered-tight": {"cover": TIGHT},
    "stirred-midway": {"power": {"pause_s": (15.0, 40.0)}, "meal": {"stirred_share": (0.5, 0.95)}},
    "duty-cycle": {"power": {"cycle_s": (14.0, 30.0)}},
    "inverter": {"power": {"level": (0.5, 0.8)}},
    "air-unknown": {"humidity": {"air_unknown": ALWAYS}},
    "humidity-dead": {"humidity": {"dead": ALWAYS}},
    "two-pieces": {"meal": {"pieces": (2.0, 2.0), "uneven_mass": (0.6, 1.0), "uneven_field": (0.1, 0.25)}},
    "high-altitude": {"magnetron": {"altitude_m": (1500.0, 3000.0)}},
    "dense": {
        "meal": {
            "pieces": (1.0, 2.4),
            "half_depth_cm": (2.4, 3.2),
            "roundness": (2.3, 3.0),
            "focus": (0.1, 0.35),
            "porous_share": (0.0, 0.15),
        }
    },
    "sauce": {
        "meal": {**LIQUID, "water_share": (0.72, 0.82), "mixing_w_g_k": (0.005, 0.015), "bears_loss_share": (0.06, 0.1)}
    },
    "deep-frozen": {"meal": {"start_c": (-18.0, -8.0), "bears_loss_share": (0.2, 0.35)}},
    **ELSEWHERE,
}

ALL_KINDS: Mapping[str, Changes] = {**KINDS, **EXTRA_KINDS}


def drawn_reheat(kind: str, rng: np.random.Generator, *, wide: bool = False) -> ReheatRecipe:
    """Draw every part of a reheat of this kind.

    Nothing published says how much meals differ. Usually they differ in when their cores are hot, beside when they steam, about
    as much as meals in logs that are not ours do, and more in the heat that they take. `wide` draws from wider ranges.
    """
    return ReheatRecipe(**drawn_parts(PARTS, WIDE if wide else USUAL, ALL_KINDS[kind], rng))
