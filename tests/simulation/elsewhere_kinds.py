"""The kinds of trouble that come from elsewhere: steam that is none of the cook's, and readings that arrive otherwise.

Popcorn cooks and reheats meet the same. Every number here is invented, a uniform range (low, high) of one field of one part.
"""

from collections.abc import Mapping

from tests.simulation.drawing import ALWAYS, NEVER, Changes

UNHEARD: Changes = {"microphone": {"dies_at_share": NEVER}}
FOR_GOOD = (600.0, 600.0)

ELSEWHERE: Mapping[str, Changes] = {
    "kitchen-steam": {
        "surroundings": {
            "steam_at_s": (5.0, 90.0),
            "steam_over_s": (1.0, 30.0),
            "steam_lasts_s": FOR_GOOD,
            "steam_g_m3": (1.5, 8.0),
        }
    },
    "kettle": {
        "surroundings": {
            "steam_at_s": (5.0, 90.0),
            "steam_over_s": (2.0, 8.0),
            "steam_lasts_s": (10.0, 40.0),
            "steam_g_m3": (2.0, 8.0),
        }
    },
    "wet-walls": {
        "surroundings": {"wet_g_m3": (5.0, 60.0), "moist_g_m3": (0.0, 6.0)},
        "air": {"dries_over_s": (20.0, 60.0)},
    },
    "fan-steps-up": {"surroundings": {"fan_at_s": (20.0, 130.0), "fan_more": (0.6, 3.0)}},
    "joins-late": {"faults": {"joins_at_s": (15.0, 45.0)}},
    "seldom-read": {"faults": {"every_s": (4.0, 10.0)}},
    "in-whole-per-cent": {"faults": {"whole_pct": ALWAYS}},
    "readings-missing": {"faults": {"gap_from_s": (-20.0, 3.0), "gap_s": (10.0, 30.0)}},
    "wild-readings": {"faults": {"wild_share": (0.01, 0.12)}},
    "scale-ends-low": {"faults": {"tops_out_pct": (60.0, 95.0)}},
    "air-told-wrong": {"faults": {"air_wrong_k": (-10.0, 10.0)}, "humidity": {"air_unknown": (0.0, 0.5)}},
}
