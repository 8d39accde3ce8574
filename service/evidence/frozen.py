"""Until when a humidity sensor lived: one that repeats a value for far longer than it ever did has frozen.

Model. The air beside the sensor warms and stirs, so that a live sensor moves by its resolution every few seconds; how
often, its own earlier runs of equal readings tell. A run that lasts `frozen_runs` times as long as the longest one before
it, and `frozen_s` at least, is not a live sensor's: a coarse one, which repeats honestly, is so given longer. Humidity and
air temperature come from one device: where both are told, the runs of both together are judged in the same way. Readings
on a smooth course, without noise, may truly have come to rest: those are given `stuck_s` at least.

A sensor that has never moved has no earlier runs to be held against, and is given `stuck_s`; one at the end of its scale
is saturated and not frozen.

Range. Any sampling; with fewer than three earlier runs nothing is said.
"""

from math import floor

import numpy as np
from numpy.typing import NDArray

from service.readings.cook import Cook
from service.units import BoolArray, IntArray

_LEAST_RUNS = 3
_COARSEST = 1000


def live_samples(cook: Cook, is_saturated: BoolArray, *, stuck_s: float, frozen_s: float, frozen_runs: float) -> int:
    """How many of the humidity readings, of which there is one at least, a live sensor gave: all unless it has frozen.

    is_saturated: (n,) which of them are at the end of the scale. Of the run that froze the first reading is counted, but
    none of a sensor that has never moved. What the numbers do is said above.
    """
    t_ms, permille, air = cook.humidity_ms, cook.humidity_permille, cook.air_decidegrees
    # Among whole numbers a whole one is looked for: any other would make the whole column one of floats first.
    earlier = int(t_ms.searchsorted(floor(t_ms[-1] - 1000.0 * frozen_s), "right")) - 1
    # Nearly always the newest reading differs from this one, and that is all there is to see.
    if earlier < 0 or permille[earlier] != permille[-1] or is_saturated[-1]:
        return t_ms.size
    (moved,) = (permille[1:] != permille[:-1]).nonzero()
    if not moved.size:
        return 0 if t_ms[-1] - t_ms[0] >= 1000.0 * stuck_s else t_ms.size
    (either_moved,) = ((permille[1:] != permille[:-1]) | (air[1:] != air[:-1])).nonzero()
    rests = any(_rests(t_ms, last, frozen_s, frozen_runs) for last in (moved, either_moved))
    if rests and (_is_noisy(permille) or _is_noisy(air) or _rests(t_ms, moved, stuck_s, frozen_runs)):
        return int(moved[-1]) + 2
    return t_ms.size


def _is_noisy(values: IntArray) -> bool:
    """Whether the readings scatter by more than a smooth course that is rounded to their resolution."""
    steps = values[1:] - values[:-1]
    resolution = int(np.abs(steps[steps != 0]).min(initial=_COARSEST))
    return int((np.abs(steps[1:] - steps[:-1]) >= 2 * resolution).sum()) >= _LEAST_RUNS


def _rests(t_ms: IntArray, last_of_runs: NDArray[np.intp], frozen_s: float, frozen_runs: float) -> bool:
    """Whether the run since the last of these readings, after each of which the sensor moved, is too long for it."""
    if last_of_runs.size < _LEAST_RUNS:
        return False
    run_began_ms = t_ms[last_of_runs + 1]
    longest_ms = max(int(run_began_ms[0] - t_ms[0]), int((run_began_ms[1:] - run_began_ms[:-1]).max()))
    return bool(t_ms[-1] - run_began_ms[-1] >= max(1000.0 * frozen_s, frozen_runs * longest_ms))
