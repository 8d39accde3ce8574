"""What can be measured of a bag, one number each."""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Literal, TypeAlias

from service.outcomes.finished import FinishedCook
from service.outcomes.shares import Share, expansion_cm3_per_g, mass_lost_share, scorched, unpopped

Measure: TypeAlias = Literal[
    "kernels_left", "unpopped_share", "scorched_share", "expansion_cm3_per_g", "mass_lost_share", "stopped_s"
]


def _share(share: Share | None) -> float | None:
    return None if share is None else share.value


def _kernels_left(finished: FinishedCook) -> float | None:
    left = finished.outcome.kernels_left
    return None if left is None else float(left)


MEASURES: Mapping[Measure, tuple[str, Callable[[FinishedCook], float | None]]] = MappingProxyType(
    {
        "kernels_left": ("kernels", _kernels_left),
        "unpopped_share": ("1", lambda one: _share(unpopped(one.outcome, one.load_g()))),
        "scorched_share": ("1", lambda one: _share(scorched(one.outcome, one.load_g()))),
        "expansion_cm3_per_g": ("cm3/g", lambda one: expansion_cm3_per_g(one.outcome, one.load_g())),
        "mass_lost_share": ("1", lambda one: mass_lost_share(one.outcome)),
        "stopped_s": ("s", lambda one: one.outcome.stopped_s),
    }
)
"""The unit of each measure, and how it is taken from a finished cook (None where it was not looked at)."""

NAMES: Mapping[Measure, str] = MappingProxyType(
    {
        "unpopped_share": "unpopped",
        "scorched_share": "scorched",
        "expansion_cm3_per_g": "expansion",
        "mass_lost_share": "mass lost",
        "kernels_left": "kernels left",
        "stopped_s": "stopped after",
    }
)
"""What each measure is called in a sentence."""
