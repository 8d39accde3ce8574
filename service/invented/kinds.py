"""The kinds of trouble, as ranges that an oven, its sensors, its link and its bags are drawn from. All numbers are invented."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from types import MappingProxyType
from typing import TypeAlias

import numpy as np

Range: TypeAlias = tuple[float, float]

SIZES: Mapping[str, float] = MappingProxyType({"snack": 46.0, "regular": 88.0, "jumbo": 118.0})
"""What is printed on the bags (g)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What makes a cook, each drawn evenly from its range; most hold for all cooks of an oven, the last five for a bag.

    Attributes:
        says: what the trouble is.
        sizes: the bags that are cooked in turn, out of SIZES.
        rated_w, output_share: what the oven is rated at, and the share of it that it gives.
        cycle_s, on_share: period of the magnetron's pulses (0 for none), and the share of it that is on.
        missed_share, dead_time_s, clutter_per_s: of the microphone; a missed share of 1 is a dead one.
        dies_at_share: when the microphone dies, as a share of the time to the peak of popping; 9 for never.
        rh_noise_pct, delay_s, lag_s, reaches_share: of the humidity sensor; a share of 0 is a dead one.
        kitchen_rh_pct, kitchen_c, warms_by_k: the air.
        late_share, twice_share: of readings that come late, and twice.
        pause_s: how long the door is open in the middle of a cook.
        stray_bursts: how many times something is taken for pops early.
        spread: scatter of the logarithm of when kernels pop.
        opens_at_share: share of the pops at which the bag opens.
        seep_share: share of the steam that leaves before that.
    """

    says: str
    sizes: tuple[str, ...] = ("snack", "regular", "jumbo")
    rated_w: Range = (900.0, 1200.0)
    output_share: Range = (0.85, 1.0)
    cycle_s: Range = (0.0, 0.0)
    on_share: Range = (0.6, 0.85)
    missed_share: Range = (0.1, 0.25)
    dead_time_s: Range = (0.02, 0.06)
    clutter_per_s: Range = (0.0, 0.02)
    dies_at_share: Range = (9.0, 9.0)
    rh_noise_pct: Range = (0.1, 0.3)
    delay_s: Range = (0.5, 3.0)
    lag_s: Range = (1.0, 6.0)
    reaches_share: Range = (0.6, 1.0)
    kitchen_rh_pct: Range = (25.0, 55.0)
    kitchen_c: Range = (18.0, 27.0)
    warms_by_k: Range = (10.0, 28.0)
    late_share: Range = (0.0, 0.0)
    twice_share: Range = (0.0, 0.0)
    pause_s: Range = (0.0, 0.0)
    stray_bursts: Range = (0.0, 0.0)
    spread: Range = (0.11, 0.15)
    opens_at_share: Range = (0.32, 0.55)
    seep_share: Range = (0.0, 0.02)


KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "regular": Kind(says="nothing is wrong"),
        "snack": Kind(says="small bags only", sizes=("snack",)),
        "jumbo": Kind(says="large bags only", sizes=("jumbo",)),
        "weak-oven": Kind(says="half of the rated power arrives", output_share=(0.5, 0.6)),
        "pulses": Kind(says="the magnetron runs in pulses", cycle_s=(14.0, 30.0)),
        "door-opened": Kind(says="the door is opened in the middle", pause_s=(6.0, 30.0)),
        "noise": Kind(says="the microphone takes other sounds for pops", clutter_per_s=(0.08, 0.3)),
        "strays": Kind(says="something rattles long before the corn pops", stray_bursts=(1.0, 4.0)),
        "hard-of-hearing": Kind(says="the microphone misses half of the pops", missed_share=(0.4, 0.55)),
        "deaf": Kind(says="the microphone is dead", missed_share=(1.0, 1.0)),
        "goes-deaf": Kind(says="the microphone dies midway", dies_at_share=(0.6, 1.15)),
        "steam-away": Kind(says="the steam comes late and thin to the sensor", reaches_share=(0.25, 0.5),
                           delay_s=(4.0, 8.0), lag_s=(8.0, 14.0)),
        "dry-sensor": Kind(says="the humidity sensor is dead", reaches_share=(0.0, 0.0)),
        "damp-kitchen": Kind(says="the kitchen is damp", kitchen_rh_pct=(65.0, 88.0)),
        "seeping-bag": Kind(says="the bag lets steam out all along", seep_share=(0.15, 0.4)),
        "stale-corn": Kind(says="the corn is dry, and pops unevenly", spread=(0.16, 0.21)),
        "bad-network": Kind(says="readings come late, in any order and twice", late_share=(0.1, 0.4),
                            twice_share=(0.05, 0.2)),
    }
)  # fmt: skip
"""Every kind by its name."""

_OF_A_BAG = ("pause_s", "stray_bursts", "spread", "opens_at_share", "seep_share")


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One draw of every range of a kind; the names and units are those of Kind."""

    rated_w: float
    output_share: float
    cycle_s: float
    on_share: float
    missed_share: float
    dead_time_s: float
    clutter_per_s: float
    dies_at_share: float
    rh_noise_pct: float
    delay_s: float
    lag_s: float
    reaches_share: float
    kitchen_rh_pct: float
    kitchen_c: float
    warms_by_k: float
    late_share: float
    twice_share: float
    pause_s: float
    stray_bursts: float
    spread: float
    opens_at_share: float
    seep_share: float


def drawn_oven(kind: Kind, rng: np.random.Generator) -> Drawn:
    """An oven of this kind, with its sensors, its link and a first bag."""
    return Drawn(**{field.name: float(rng.uniform(*getattr(kind, field.name))) for field in fields(Drawn)})


def with_another_bag(oven: Drawn, kind: Kind, rng: np.random.Generator) -> Drawn:
    """The same oven with another bag in it."""
    return replace(oven, **{name: float(rng.uniform(*getattr(kind, name))) for name in _OF_A_BAG})
