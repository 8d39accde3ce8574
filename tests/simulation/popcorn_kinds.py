"""The kinds of popcorn cook: what each part of a cook ranges over, usually and in each kind.

Every number here is invented: a uniform range (low, high) of one field of one part. A kind states only what it changes.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np

from tests.simulation.bag import Bag
from tests.simulation.drawing import ALWAYS, NEVER, Changes, Ranges, drawn_parts
from tests.simulation.elsewhere_kinds import ELSEWHERE, UNHEARD
from tests.simulation.hub import Hub
from tests.simulation.kernels import Corn
from tests.simulation.microphone import Microphone
from tests.simulation.network import Link
from tests.simulation.oven import Oven, PowerPlan
from tests.simulation.sensor_faults import SensorFaults
from tests.simulation.sensors import Air, HumiditySensor
from tests.simulation.surroundings import Surroundings


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """Everything that one cook is drawn from."""

    corn: Corn
    oven: Oven
    power: PowerPlan
    bag: Bag
    air: Air
    humidity: HumiditySensor
    microphone: Microphone
    link: Link
    hub: Hub
    surroundings: Surroundings
    faults: SensorFaults


PARTS: Mapping[str, type] = {
    "corn": Corn,
    "oven": Oven,
    "power": PowerPlan,
    "bag": Bag,
    "air": Air,
    "humidity": HumiditySensor,
    "microphone": Microphone,
    "link": Link,
    "hub": Hub,
    "surroundings": Surroundings,
    "faults": SensorFaults,
}

NOTHING_AROUND: Ranges = {field.name: NEVER for field in fields(Surroundings)}
NO_FAULTS: Ranges = {field.name: NEVER for field in fields(SensorFaults)} | {"air_how": (0.0, 1.0)}

USUAL: Changes = {
    "corn": {
        "load_g": (72.0, 105.0),
        "kernel_share": (0.71, 0.77),
        "kernel_mass_g": (0.127, 0.141),
        "mass_scatter": (0.095, 0.125),
        "moisture_share": (0.131, 0.144),
        "moisture_scatter": (0.005, 0.008),
        "coupling_scatter": (0.095, 0.125),
        "hull_kpa": (900.0, 970.0),
        "hull_scatter": (0.12, 0.17),
        "cracked_share": (0.05, 0.1),
        "slow_share": NEVER,
        "slow_coupling": ALWAYS,
        "slow_apart": NEVER,
    },
    "oven": {
        "rated_w": (800.0, 1250.0),
        "output_share": (0.8, 1.03),
        "warm_droop": (0.02, 0.07),
        "uptake_share": (0.42, 0.46),
        "other_load_g": (41.0, 54.0),
        "turntable_s": (8.0, 14.0),
        "field_amplitude": (0.12, 0.22),
        "field_cell_cm": (8.0, 11.0),
        "off_centre_cm": (0.7, 2.3),
        "jostle_cm": (1.0, 2.0),
        "stranded_share": (0.0, 0.05),
        "flake_uptake_share": (0.7, 0.9),
        "exchange_per_s": (0.003, 0.006),
        "bag_heat_share": (0.44, 0.61),
        "bag_loss_per_s": (0.004, 0.007),
        "off_loss_share": (0.27, 0.43),
        "steam_loss_factor": (1.6, 3.9),
    },
    "power": {
        "level": ALWAYS,
        "cycle_s": NEVER,
        "cycle_on_share": (0.6, 0.85),
        "pause_at_s": (40.0, 130.0),
        "pause_s": NEVER,
        "fan_first_s": (-8.0, 4.0),
        "said": (0.0, 1.0),
        "pauses": ALWAYS,
        "pause_apart_s": NEVER,
        "pause_at_popped": NEVER,
        "fades_at_s": NEVER,
        "fades_to": ALWAYS,
    },
    "bag": {
        "flash_share": (0.25, 0.55),
        "opens_at_share": (0.3, 0.62),
        "burst_share": (0.1, 0.9),
        "burst_s": (0.6, 3.0),
        "boiled_share": (0.1, 0.5),
        "seep_share": (0.0, 0.02),
        "twice": NEVER,
        "first_share": (0.25, 0.45),
    },
    "air": {
        "cavity_l": (22.0, 42.0),
        "flush_s": (3.0, 20.0),
        "kitchen_rh_pct": (22.0, 60.0),
        "kitchen_c": (17.0, 30.0),
        "warms_by_k": (10.0, 34.0),
        "warms_over_s": (80.0, 260.0),
        "wall_colder_k": (0.0, 3.0),
        "dries_over_s": (10.0, 60.0),
    },
    "humidity": {
        "reaches_share": (0.5, 1.0),
        "delay_s": (0.5, 4.0),
        "mixing_s": (0.1, 1.5),
        "lag_s": (1.0, 7.0),
        "noise_pct": (0.05, 0.4),
        "drift_pct_per_min": (-0.3, 0.3),
        "coarse": (0.0, 1.0),
        "every_two_s": (0.0, 1.0),
        "jitter": (0.0, 1.0),
        "air_unknown": (0.0, 1.0),
        "dead": NEVER,
        "dead_how": (0.0, 1.0),
        "freezes_at_s": NEVER,
        "freezes_how": (0.0, 1.0),
    },
    "microphone": {
        "missed_share": (0.1, 0.3),
        "muffled_share": (0.0, 0.15),
        "fades_over_s": NEVER,
        "clutter_per_s": (0.0, 0.02),
        "stray_bursts": NEVER,
        "echo_share": NEVER,
        "dead_time_s": (0.02, 0.07),
        "paralysable": (0.0, 1.0),
        "dies_at_share": (2.0, 2.0),
        "timing": (0.0, 1.0),
        "rattle_per_s": NEVER,
        "rattle_at_share": ALWAYS,
        "rattle_jitter": NEVER,
        "switch_click_share": NEVER,
        "late_bursts": NEVER,
        "gain_cut_per_s": NEVER,
        "deaf_at_share": ALWAYS,
        "deaf_s": NEVER,
        "stamp_s": NEVER,
    },
    "link": {
        "skipped_share": (0.03, 0.3),
        "lost_share": (0.02, 0.1),
        "late_share": (0.05, 0.3),
        "late_s": (0.5, 3.0),
        "doubled_share": (0.0, 0.1),
    },
    "hub": {
        "starts_late_s": NEVER,
        "power_told": ALWAYS,
        "power_late_s": NEVER,
        "level_share": ALWAYS,
        "rated_share": ALWAYS,
        "load_share": ALWAYS,
        "gap_s": NEVER,
        "arrives_late_s": NEVER,
        "posts_every_s": NEVER,
        "outage_at_s": NEVER,
        "outage_s": NEVER,
        "polls_every_s": NEVER,
        "meter_noise": NEVER,
        "idle_level": NEVER,
        "humidity_every_s": NEVER,
    },
    "surroundings": NOTHING_AROUND,
    "faults": NO_FAULTS,
}

# Bags and ovens that differ more from each other, and fields with more of a pattern: see `drawn_recipe`.
_WIDER: Changes = {
    "corn": {
        "kernel_share": (0.68, 0.8),
        "kernel_mass_g": (0.12, 0.148),
        "mass_scatter": (0.08, 0.14),
        "moisture_share": (0.125, 0.15),
        "moisture_scatter": (0.004, 0.009),
        "coupling_scatter": (0.08, 0.14),
        "hull_kpa": (860.0, 1010.0),
        "hull_scatter": (0.09, 0.16),
        "cracked_share": (0.03, 0.12),
    },
    "oven": {
        "warm_droop": (0.0, 0.09),
        "uptake_share": (0.40, 0.48),
        "other_load_g": (35.0, 60.0),
        "field_amplitude": (0.15, 0.45),
        "field_cell_cm": (6.0, 13.0),
        "off_centre_cm": (0.0, 3.0),
        "jostle_cm": (0.5, 2.5),
        "flake_uptake_share": (0.6, 1.0),
        "exchange_per_s": (0.002, 0.007),
        "bag_heat_share": (0.35, 0.7),
        "bag_loss_per_s": (0.003, 0.008),
        "off_loss_share": (0.2, 0.5),
        "steam_loss_factor": (0.5, 5.0),
    },
}

WIDE: Changes = {**USUAL, **{part: {**USUAL[part], **ranges} for part, ranges in _WIDER.items()}}

KINDS: Mapping[str, Changes] = {
    "regular": {},
    "snack": {"corn": {"load_g": (40.0, 52.0)}},
    "jumbo": {"corn": {"load_g": (106.0, 130.0)}},
    "low-power": {"oven": {"rated_w": (450.0, 700.0), "output_share": (0.85, 1.05)}},
    "duty-cycle": {"power": {"cycle_s": (14.0, 30.0)}},
    "noisy": {"microphone": {"clutter_per_s": (0.08, 0.35)}},
    "missed": {"microphone": {"missed_share": (0.35, 0.5), "dead_time_s": (0.03, 0.08)}},
    "vent-away": {
        "humidity": {"reaches_share": (0.25, 0.6), "delay_s": (4.0, 8.0), "mixing_s": (1.5, 5.0), "lag_s": (5.0, 12.0)}
    },
    "seeping-bag": {"bag": {"seep_share": (0.12, 0.4), "burst_share": (0.1, 0.6), "burst_s": (1.0, 5.0)}},
    "stale": {
        "corn": {"moisture_share": (0.09, 0.115), "moisture_scatter": (0.006, 0.013), "cracked_share": (0.14, 0.28)}
    },
    "coated": {
        "corn": {"coupling_scatter": (0.12, 0.19), "hull_scatter": (0.12, 0.2)},
        "oven": {"stranded_share": (0.03, 0.09)},
    },
    "mic-dead": {"microphone": {"dies_at_share": NEVER}},
    "mic-dies": {"microphone": {"dies_at_share": (0.15, 0.85)}},
    "humidity-dead": {"humidity": {"dead": ALWAYS}},
    "humid-kitchen": {"air": {"kitchen_rh_pct": (65.0, 88.0)}},
    "paused": {"power": {"pause_s": (6.0, 30.0)}},
    "early-strays": {"microphone": {"stray_bursts": (1.0, 4.0)}},
}

EXTRA_KINDS: Mapping[str, Changes] = {
    "inverter": {"power": {"level": (0.55, 0.8)}, "oven": {"rated_w": (1000.0, 1250.0), "output_share": (0.9, 1.05)}},
    "air-unknown": {"humidity": {"air_unknown": ALWAYS}},
    "opens-twice": {"bag": {"twice": ALWAYS, "opens_at_share": (0.45, 0.75), "burst_share": (0.4, 0.9)}},
    "mic-fading": {"microphone": {"fades_over_s": (40.0, 120.0)}},
    "mic-dies-early": {"microphone": {"dies_at_share": (0.005, 0.15)}},
    "mic-echo": {"microphone": {"echo_share": (0.2, 0.6)}},
    "humidity-freezes": {"humidity": {"freezes_at_s": (15.0, 140.0)}},
    "both-fail": {"humidity": {"freezes_at_s": (15.0, 140.0)}, "microphone": {"dies_at_share": NEVER}},
    "no-turntable": {"oven": {"turntable_s": NEVER, "field_amplitude": (0.05, 0.14)}},
    "late-pause": {"power": {"pause_at_s": (90.0, 160.0), "pause_s": (6.0, 45.0)}},
    "cold-oven-small-cavity": {"air": {"cavity_l": (15.0, 22.0), "kitchen_c": (12.0, 17.0), "flush_s": (10.0, 20.0)}},
    "kitchen-steam": ELSEWHERE["kitchen-steam"],
    "kettle": ELSEWHERE["kettle"],
    **{f"{kind}-unheard": {**changes, **UNHEARD} for kind, changes in ELSEWHERE.items()},
}

# What the machine, the hub and odd corn do to sound, power and time.
HARSH_KINDS: Mapping[str, Changes] = {
    "relay-clicks": {"power": {"cycle_s": (14.0, 30.0)}, "microphone": {"switch_click_share": (0.7, 1.0)}},
    "rattle-midway": {
        "microphone": {"rattle_per_s": (0.8, 2.5), "rattle_at_share": (0.2, 0.9), "rattle_jitter": (0.0, 0.3)}
    },
    "late-bursts": {"microphone": {"late_bursts": (2.0, 5.0)}},
    "gain-cut": {"microphone": {"gain_cut_per_s": (2.0, 6.0)}},
    "mic-gap": {"microphone": {"deaf_at_share": (0.05, 0.8), "deaf_s": (12.0, 25.0)}},
    "stamps-seconds": {"microphone": {"stamp_s": ALWAYS}},
    "long-dead-time": {"microphone": {"dead_time_s": (0.15, 0.3)}},
    "clock-late": {"hub": {"starts_late_s": (5.0, 25.0)}},
    "clock-early": {"hub": {"starts_late_s": (-25.0, -5.0)}},
    "power-late": {"power": {"cycle_s": (14.0, 30.0)}, "hub": {"power_late_s": (5.0, 12.0)}},
    "power-polled": {
        "power": {"cycle_s": (14.0, 30.0)},
        "hub": {"polls_every_s": (1.0, 2.0), "meter_noise": (0.01, 0.05), "idle_level": (0.01, 0.06)},
    },
    "power-untold": {"power": {"cycle_s": (14.0, 30.0), "fan_first_s": NEVER}, "hub": {"power_told": NEVER}},
    "pause-untold": {"power": {"pause_s": (6.0, 30.0), "fan_first_s": NEVER}, "hub": {"power_told": NEVER}},
    "on-untold": {"power": {"fan_first_s": (1.0, 4.0)}, "hub": {"power_told": NEVER}},
    "level-wrong": {"power": {"said": NEVER, "fan_first_s": (1.0, 4.0)}, "hub": {"level_share": (0.4, 0.6)}},
    "pauses": {"power": {"pauses": (2.0, 4.4), "pause_s": (4.0, 20.0), "pause_apart_s": (8.0, 30.0)}},
    "pause-at-peak": {"power": {"pause_at_popped": (0.35, 0.7), "pause_s": (5.0, 30.0)}},
    "pause-at-end": {"power": {"pause_at_popped": (0.88, 0.97), "pause_s": (5.0, 30.0)}},
    "low-duty": {
        "power": {"cycle_s": (24.0, 30.0), "cycle_on_share": (0.33, 0.42)},
        "oven": {"rated_w": (1000.0, 1250.0), "output_share": (0.95, 1.03)},
    },
    "power-fades": {"power": {"fades_at_s": (40.0, 110.0), "fades_to": (0.6, 0.85)}},
    "two-batches": {"corn": {"slow_share": (0.25, 0.45), "slow_coupling": (0.7, 0.82)}},
    "long-tail": {"corn": {"slow_share": (0.1, 0.25), "slow_coupling": (0.5, 0.7), "slow_apart": ALWAYS}},
    "tiny-bag": {"corn": {"load_g": (14.0, 20.0)}},
    "poor-corn": {"corn": {"cracked_share": (0.5, 0.75)}},
    "very-weak": {"oven": {"rated_w": (330.0, 450.0), "output_share": (0.9, 1.05)}},
    "short-gap": {"hub": {"gap_s": (1.2, 1.2)}},
    "long-gap": {"hub": {"gap_s": (3.5, 3.5)}},
    "late-readings": {"hub": {"arrives_late_s": (5.0, 8.0)}},
    "late-pops-alone": {"hub": {"arrives_late_s": (5.0, 8.0)}, "humidity": {"dead": ALWAYS}},
    "seldom-humidity": {"hub": {"humidity_every_s": (5.0, 20.0)}},
    "seldom-posts": {"hub": {"posts_every_s": (5.0, 10.0)}},
    "outage": {"hub": {"outage_at_s": (40.0, 130.0), "outage_s": (20.0, 30.0)}},
    "setup-wrong": {"hub": {"rated_share": (1.6, 2.2), "load_share": (0.4, 2.5)}},
}

ALL_KINDS: Mapping[str, Changes] = {**KINDS, **EXTRA_KINDS, **HARSH_KINDS}


def drawn_recipe(kind: str, rng: np.random.Generator, *, wide: bool = False) -> Recipe:
    """Draw every part of a cook of this kind; the parts that a kind leaves alone are drawn the same in all kinds.

    Nothing published says how wide the ranges of corn, oven and bag are. Usually they are such that bags differ in the spread of
    their pop times, and in how long after its opening each is done, no less than bags in logs that are not ours do, and that
    plain rules stop as many cooks well. `wide` draws from wider ones.
    """
    return Recipe(**drawn_parts(PARTS, WIDE if wide else USUAL, ALL_KINDS[kind], rng))
