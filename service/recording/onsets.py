"""Where pops begin: levels that stand out of the noise, rise at once, and die away at once."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, minimum_filter1d

from service.recording.noise import Noise
from service.recording.numbers import Numbers
from service.units import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Pop:
    """A sound that is probably a pop.

    Attributes:
        t_s: when it began (s).
        certainty: from 0 to 1.
        above_noise_db: by how much its loudest level exceeds the noise (dB).
        rise_db: by how much it exceeds what went just before (dB).
    """

    t_s: float
    certainty: float
    above_noise_db: float
    rise_db: float


def pops_in(
    times_s: FloatArray, levels_db: FloatArray, noise: Noise, hops_a_period: int, numbers: Numbers
) -> Iterator[Pop]:
    """The pops in these levels, of which so many make a mains period, in order."""
    if len(levels_db) < 3:
        return
    hop_s = float(times_s[1] - times_s[0])
    rise = levels_db - _before(levels_db, hop_s, numbers)
    # The level at its top, which comes within the smoothing after it has begun to rise.
    ahead = _hops(numbers.smoothing_s, hop_s)
    above = _greatest_ahead(levels_db - noise.mean_db, ahead)
    needed = np.maximum(numbers.above_noise_db, numbers.above_scatters * noise.scatter_db)
    margin = np.minimum(above - needed, rise - numbers.rise_db)
    loudest = _greatest_ahead(levels_db, ahead)
    quiet = np.maximum(loudest - numbers.dies_by_db, noise.mean_db + numbers.above_noise_db / 2.0)
    dies = _least_ahead(levels_db, _hops(numbers.dies_within_s, hop_s)) <= quiet
    peaks = np.flatnonzero(
        (margin >= 0.0)
        & dies
        & ~_repeats(loudest, hops_a_period, numbers)
        & (rise >= _greatest_about(rise, _hops(numbers.dead_time_s / 2.0, hop_s)))
    )
    free_from_s = -np.inf
    for at in peaks.tolist():
        if times_s[at] >= free_from_s:
            free_from_s = times_s[at] + numbers.dead_time_s
            doubt = (1.0 - numbers.certainty_least) * np.exp(-margin[at] / numbers.certainty_scale_db)
            yield Pop(
                t_s=float(times_s[at]),
                certainty=float(1.0 - doubt),
                above_noise_db=float(above[at]),
                rise_db=float(rise[at]),
            )


def _before(levels_db: FloatArray, hop_s: float, numbers: Numbers) -> FloatArray:
    """The greatest level just before each."""
    gap, over = _hops(numbers.rise_within_s, hop_s), _hops(numbers.rise_over_s, hop_s)
    greatest = maximum_filter1d(levels_db, over, origin=(over - 1) // 2, mode="nearest")
    return np.concatenate((np.full(gap, greatest[0]), greatest))[: len(levels_db)]


def _repeats(levels_db: FloatArray, hops_a_period: int, numbers: Numbers) -> NDArray[np.bool_]:
    """Whether as much comes again in each of the next mains periods, or came in each of the last: the magnetron does so.

    Where it has just begun to, or is about to end, the noise does not tell yet.
    """
    near = maximum_filter1d(levels_db, 3, mode="nearest")
    periods = range(1, round(numbers.repeats_periods) + 1)
    before = np.min([_shifted(near, hops_a_period * count) for count in periods], axis=0)
    after = np.min([_shifted(near, -hops_a_period * count) for count in periods], axis=0)
    repeats: NDArray[np.bool_] = np.maximum(before, after) >= levels_db - numbers.repeats_within_db
    return repeats


def _shifted(levels_db: FloatArray, hops: int) -> FloatArray:
    """Each level from so many steps before; quiet beyond the ends."""
    moved: FloatArray = np.full(len(levels_db), -np.inf)
    if hops >= 0:
        moved[hops:] = levels_db[: len(levels_db) - min(hops, len(levels_db))]
    else:
        moved[:hops] = levels_db[-hops:]
    return moved


def _hops(seconds: float, hop_s: float) -> int:
    return max(1, round(seconds / hop_s))


def _greatest_ahead(values: FloatArray, hops: int) -> FloatArray:
    """The greatest of each value and so many after it."""
    found: FloatArray = maximum_filter1d(values, hops + 1, origin=-((hops + 1) // 2), mode="nearest")
    return found


def _least_ahead(values: FloatArray, hops: int) -> FloatArray:
    """The least of each value and so many after it."""
    found: FloatArray = minimum_filter1d(values, hops + 1, origin=-((hops + 1) // 2), mode="nearest")
    return found


def _greatest_about(values: FloatArray, hops: int) -> FloatArray:
    """The greatest within so many on either side."""
    found: FloatArray = maximum_filter1d(values, 2 * hops + 1, mode="nearest")
    return found
