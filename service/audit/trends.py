"""A trend over trials, such as of an oven that warms up: named, tested, and taken out of a comparison.

Model. The number of a bag is its group's level plus one slope times the trial, the same in all groups, plus scatter.
The slope is tested, and the difference of two groups is estimated beside it, so that a trend neither hides a difference
nor makes one.

Range. Three trials and more numbers than groups plus one. A trend that is not straight is only caught in part.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.audit.least_squares import Tested, TooFew, least_squares
from service.units import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """Change a trial, with its interval and test; `trials` how many different ones there were."""

    slope: Tested
    trials: int


def trend(values: FloatArray, trials: FloatArray, groups: Sequence[str], level: float) -> Trend:
    """The slope that all groups share; (n,) values, their trials and groups. Raises TooFew where it cannot be told."""
    distinct = np.unique(trials)
    if distinct.size < 3:
        raise TooFew(f"a trend needs three different trials; there are {distinct.size}")
    design = np.column_stack((trials - trials.mean(), *_levels(groups)))
    return Trend(slope=least_squares(design, values).tested(0, level), trials=int(distinct.size))


def detrended_difference(values: FloatArray, trials: FloatArray, groups: Sequence[str], level: float) -> Tested:
    """The second of two groups (in the order in which they come) less the first, beside the trend that they share."""
    names = tuple(dict.fromkeys(groups))
    if len(names) != 2:
        raise ValueError(f"a difference is between two groups; got {len(names)}")
    second = np.array([group == names[1] for group in groups], dtype=np.float64)
    design = np.column_stack((second, trials - trials.mean(), np.ones(values.size)))
    return least_squares(design, values).tested(0, level)


def _levels(groups: Sequence[str]) -> list[FloatArray]:
    return [np.array([group == name for group in groups], dtype=np.float64) for name in dict.fromkeys(groups)]
