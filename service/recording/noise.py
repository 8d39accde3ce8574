"""The noise that pops stand out of: the fan, which is steady, and the hum, which repeats with the mains.

Model: without pops, the level at one phase of the mains is normal in decibels about a mean that changes slowly. Pops
only raise it, so two low quantiles over a window give the mean and the scatter however busily it pops: with z the
standard normal quantiles, scatter = (high - low) / (z_high - z_low) and mean = high - z_high * scatter. Valid while
pops and their echoes leave well over a third of the window alone.
"""

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from service.recording.numbers import Numbers
from service.units import FloatArray

Hops = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Noise:
    """The noise under each level: its mean and its scatter, shape (levels,) (dB)."""

    mean_db: FloatArray
    scatter_db: FloatArray


def noise_under(levels_db: FloatArray, hop_s: float, hops_a_period: int, numbers: Numbers) -> Noise:
    """The noise under levels in steps of `hop_s`, of which so many make a mains period."""
    periods = len(levels_db) // hops_a_period
    window = min(max(3, round(numbers.floor_window_s / (hop_s * hops_a_period))), max(periods, 1))
    if periods < 3:
        return _flat(levels_db, numbers)
    by_phase = levels_db[: periods * hops_a_period].reshape(periods, hops_a_period)
    step = max(1, round(numbers.floor_step_s / (hop_s * hops_a_period)))
    windows = sliding_window_view(by_phase, window, axis=0)[::step]
    mean, scatter = _mean_and_scatter(windows, numbers)
    # Where the mains wander, a loud step slips to its neighbour.
    loudest: FloatArray = np.max([mean, np.roll(mean, 1, axis=1), np.roll(mean, -1, axis=1)], axis=0)
    centres: FloatArray = np.arange(len(mean), dtype=np.float64) * step + (window - 1) / 2.0
    at, phase = np.divmod(np.arange(len(levels_db), dtype=np.intp), hops_a_period)
    return Noise(
        mean_db=_between(centres, loudest, at, phase), scatter_db=np.interp(at, centres, np.median(scatter, axis=1))
    )


def _mean_and_scatter(windows: FloatArray, numbers: Numbers) -> tuple[FloatArray, FloatArray]:
    """Over the last axis."""
    shares = (numbers.floor_low_quantile, numbers.floor_high_quantile)
    low, high = np.quantile(windows, shares, axis=-1)
    z_low, z_high = (NormalDist().inv_cdf(share) for share in shares)
    scatter = np.maximum((high - low) / (z_high - z_low), numbers.scatter_least_db)
    return high - z_high * scatter, scatter


def _between(centres: FloatArray, mean: FloatArray, at: Hops, phase: Hops) -> FloatArray:
    """Interpolated from the window centres to each level, at its own phase."""
    place = np.clip(np.interp(at, centres, np.arange(len(centres))), 0.0, len(centres) - 1.0)
    below = np.floor(place).astype(np.intp)
    above = np.minimum(below + 1, len(centres) - 1)
    share = place - below
    between: FloatArray = mean[below, phase] * (1.0 - share) + mean[above, phase] * share
    return between


def _flat(levels_db: FloatArray, numbers: Numbers) -> Noise:
    """The noise of a sound that is too short for more than one judgement."""
    mean, scatter = _mean_and_scatter(levels_db[np.newaxis], numbers)
    return Noise(mean_db=np.full(len(levels_db), mean[0]), scatter_db=np.full(len(levels_db), scatter[0]))
