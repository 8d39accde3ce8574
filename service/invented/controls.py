"""Who ends an invented cook, and by what: an oven's own control, or a person who listens. All numbers are invented."""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Literal, TypeAlias

import numpy as np

from service.invented.bag import Bag

Control: TypeAlias = Literal["person", "timer", "steam", "sound"]


def _person(bag: Bag, oven: np.random.Generator, rng: np.random.Generator) -> float:
    del oven
    return bag.good_stop_s + float(rng.uniform(-1.5, 3.0))


def _timer(bag: Bag, oven: np.random.Generator, rng: np.random.Generator) -> float:
    del bag
    return float(oven.uniform(110.0, 160.0) + rng.normal(0.0, 0.2))


def _steam(bag: Bag, oven: np.random.Generator, rng: np.random.Generator) -> float:
    return float(bag.opened_s * oven.uniform(1.22, 1.45) * np.exp(rng.normal(0.0, 0.012)))


def _sound(bag: Bag, oven: np.random.Generator, rng: np.random.Generator) -> float:
    del oven
    return bag.good_stop_s + float(rng.uniform(0.0, 0.5))


ENDS: Mapping[Control, Callable[[Bag, np.random.Generator, np.random.Generator], float]] = MappingProxyType(
    {"person": _person, "timer": _timer, "steam": _steam, "sound": _sound}
)
"""When each ends a cook (s, cook clock): from the bag, the chance that is the oven's own, and that of the cook."""
