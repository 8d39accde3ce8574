"""Pops that merge: the rate that was, from the rate that a detector with a dead time counts.

Model. Pops come as a Poisson process of rate n. After each pop that it counts the detector is blind for a dead time
tau and then ready again at once, whatever happened meanwhile (a non-paralysable counter), so that it counts

    m = n / (1 + n tau),   hence   n = m / (1 - m tau),

and no more than 1/tau however fast the pops come. A paralysable counter, whose dead time starts anew at every pop,
would count m = n exp(-n tau); it is here to say how much the choice matters.

Range. Any true rate; counted rates below 1/tau. A counted rate at or above it cannot be, and means a wrong dead time.

The dead time itself shows in the gaps between counted pops: none is shorter than tau, and just above it they lie
evenly. With g_(r) the r-th smallest gap, 2 g_(r) - g_(2r) runs that even part back to its beginning; r > 1 leaves
room for some stray short gaps.

Reference. G. F. Knoll, Radiation Detection and Measurement, chapter "Dead time"; the order-statistic estimate is
our own.
"""

from math import ceil, sqrt
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from service.units import FloatArray, IntArray


def true_rate_per_s(counted_per_s: npt.ArrayLike, dead_time_s: float) -> FloatArray:
    """Rate of the pops, per second, from the counted rate; a scalar or an array.

    Raises ValueError for a rate or dead time below zero, and for a counted rate at or above 1/dead_time_s.
    """
    counted = _rates(counted_per_s, dead_time_s)
    live_share = 1.0 - counted * dead_time_s
    if np.any(live_share <= 0.0):
        raise ValueError(
            f"a detector blind for {dead_time_s:g} s after a pop counts fewer than {1.0 / dead_time_s:g} per second; "
            f"got {np.max(counted):g}: the dead time is too long, or the count is not one of pops"
        )
    return counted / live_share


def counted_rate_per_s(true_per_s: npt.ArrayLike, dead_time_s: float) -> FloatArray:
    """Rate that a non-paralysable detector counts, per second; a scalar or an array. Raises ValueError below zero."""
    rate = _rates(true_per_s, dead_time_s)
    return rate / (1.0 + rate * dead_time_s)


def paralysable_rate_per_s(true_per_s: npt.ArrayLike, dead_time_s: float) -> FloatArray:
    """Rate that a paralysable detector counts, per second; a scalar or an array. Raises ValueError below zero."""
    rate = _rates(true_per_s, dead_time_s)
    return rate * np.exp(-rate * dead_time_s)


def _rates(rate_per_s: npt.ArrayLike, dead_time_s: float) -> FloatArray:
    rate = np.asarray(rate_per_s, dtype=np.float64)
    if dead_time_s < 0.0 or np.any(rate < 0.0):
        raise ValueError(f"rates and dead times are not below zero; got {rate} per second and {dead_time_s} s")
    return rate


class DeadTime(NamedTuple):
    """A dead time read off the gaps of a train of pops."""

    estimate_s: float
    standard_error_s: float
    gaps: int  # the sample size


def dead_time_from_pops(pops_ms: IntArray, *, stray_share: float) -> DeadTime | None:
    """Dead time of the detector that heard these pops (sorted, in milliseconds), or None with too few gaps to say.

    Up to a share stray_share of the gaps may be impossibly short without upsetting the estimate. The standard error
    is that of the difference of two order statistics of evenly spread gaps; it leaves out the rounding of times to
    milliseconds. Raises ValueError for a share outside 0 to 0.25.
    """
    if not 0.0 <= stray_share <= 0.25:
        raise ValueError(f"the share of stray gaps must be 0 to 0.25; got {stray_share}")
    gaps_ms = pops_ms[1:] - pops_ms[:-1]
    rank = 1 + ceil(stray_share * gaps_ms.size)
    if gaps_ms.size < 4 * rank:
        return None
    gaps_ms.sort()
    near, far = float(gaps_ms[rank - 1]) / 1000.0, float(gaps_ms[2 * rank - 1]) / 1000.0
    return DeadTime(
        estimate_s=max(0.0, 2.0 * near - far),
        standard_error_s=sqrt(2.0 / rank) * (far - near),
        gaps=gaps_ms.size,
    )
