"""When a cook should have stopped, from the expected rate of its own pops.

An attentive listener waits, after the peak, for the first silence of `gap_s`. With expected rate r(u) on the clock of the
time at heat, a silence that begins at u has hazard r(u) exp(-(R(u + gap) - R(u))), R the integral of r; the share of
listeners that have heard one by u + gap is 1 - exp(-integral of the hazard since the peak). A stop is good from the moment
at which one listener in ten would have heard it to the moment at which the rate has fallen to one pop in `gap_s`; typical
is the median listener.

The clock of the time at heat runs while the magnetron is on and the corn is as hot as it has ever been: neither a pause nor the
seconds in which the corn regains what it lost in one are a silence. An oven at part power runs this clock at full speed.
"""

from dataclasses import dataclass

import numpy as np

from tests.simulation.kernels import FloatArray, Kernels
from tests.simulation.oven import Heating

GRID_S = 0.25
GAP_S = 2.0
SMOOTH_S = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StopWindow:
    """A good stop in seconds: from `earliest_s` to `latest_s`, typically at `typical_s`."""

    earliest_s: float
    typical_s: float
    latest_s: float
    peak_s: float
    peak_rate_per_s: float


def expected_rate(kernels: Kernels, heating: Heating) -> tuple[FloatArray, FloatArray]:
    """Expected pops a second on the clock of the time at heat, and the cook time of each grid point.

    The mean is over all hulls that these very kernels might have had, at the temperatures that they did have.
    """
    popped = np.concatenate(([0.0], heating.expected_popped))
    clock_s = np.concatenate(([0.0], np.cumsum(heating.at_heat) * (heating.time_s[1] - heating.time_s[0])))
    grid_s = np.arange(0.0, clock_s[-1], GRID_S)
    rate = np.gradient(np.interp(grid_s, clock_s, popped), GRID_S)
    moving = np.concatenate(([True], np.diff(clock_s) > 0.0))
    cook_s = np.concatenate(([0.0], heating.time_s))
    return smoothed(rate, SMOOTH_S), np.interp(grid_s, clock_s[moving], cook_s[moving])


def smoothed(rate_per_s: FloatArray, width_s: float) -> FloatArray:
    """A rate on the grid, blurred by a bell of standard deviation `width_s`."""
    reach = round(4.0 * width_s / GRID_S)
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) * GRID_S / width_s) ** 2)
    padded = np.pad(rate_per_s, reach, mode="edge")
    blurred: FloatArray = np.convolve(padded, bell / bell.sum(), mode="valid")
    return blurred


def stop_window(rate_per_s: FloatArray, cook_s: FloatArray, gap_s: float = GAP_S) -> StopWindow | None:
    """The good window, given a rate on the grid and the cook time of each point; None when the rate never falls enough."""
    peak = int(np.argmax(rate_per_s))
    low = np.flatnonzero((rate_per_s < 1.0 / gap_s) & (np.arange(len(rate_per_s)) > peak))
    heard = listeners_done(rate_per_s, peak, gap_s)
    if not len(low) or heard[-1] < 0.5:
        return None
    tenth, half = (min(int(np.searchsorted(heard, share)), len(heard) - 1) for share in (0.1, 0.5))
    return StopWindow(
        earliest_s=float(cook_s[tenth]),
        typical_s=float(cook_s[half]),
        latest_s=float(cook_s[low[0]]),
        peak_s=float(cook_s[peak]),
        peak_rate_per_s=float(rate_per_s[peak]),
    )


def listeners_done(rate_per_s: FloatArray, peak: int, gap_s: float) -> FloatArray:
    """Share of listeners, at each grid point, who have heard a whole silence of `gap_s` since the peak."""
    ahead = round(gap_s / GRID_S)
    total = np.concatenate(([0.0], np.cumsum(rate_per_s) * GRID_S))
    total = np.concatenate((total, np.full(ahead, total[-1])))
    in_gap = total[ahead : ahead + len(rate_per_s)] - total[: len(rate_per_s)]
    hazard = rate_per_s * np.exp(-in_gap)
    hazard[:peak] = 0.0
    begun = 1.0 - np.exp(-np.cumsum(hazard) * GRID_S)
    done: FloatArray = np.concatenate((np.zeros(ahead), begun))[: len(rate_per_s)]
    return done


def rate_of_pops(pops_s: FloatArray, until_s: float, width_s: float) -> FloatArray:
    """A rate on the grid from pop times on the clock of the time at heat: for cooks of which only the pops are known."""
    edges_s = np.arange(0.0, until_s + GRID_S, GRID_S)
    counts, _ = np.histogram(pops_s, edges_s)
    return smoothed(counts / GRID_S, width_s)
