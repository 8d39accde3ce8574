"""How many sizes of bag there are among some cooks.

Model. In order of size, a new class begins where a bag is at least `step` times the smallest of the class before it.
Where the mass of a bag is not known, the heat that it took until steam stands for it, or the time until the silence after
its popping: both stretch with the mass. A single bag is then no size of its own: it may be a cook that was ended early, whose
silence, foretold from the pops before the stop, seems to come soon.
"""

from collections.abc import Sequence

import numpy as np

from service.audit.listening import GAPS_S
from service.audit.stop_cues import StopCues
from service.programs.programme import Programme
from service.units import FloatArray, IntArray

_TWO_SECONDS = GAPS_S.index(2.0)


def size_classes(sizes: FloatArray, step: float) -> IntArray:
    """The class of each of (n,) sizes, from 0 for the smallest."""
    classes = np.zeros(sizes.size, dtype=np.int32)
    begins, current = float(sizes.min()), 0
    for place in sizes.argsort(kind="stable").tolist():
        if sizes[place] >= begins * step:
            begins, current = float(sizes[place]), current + 1
        classes[place] = current
    return classes


def sizes_among(cues: Sequence[StopCues], numbers: Programme) -> int:
    """How many sizes can be told apart; 0 where nothing tells of any."""
    masses_g = [cue.load_g for cue in cues if cue.load_g is not None]
    if len(masses_g) == len(cues):
        return _count(masses_g, numbers.number("size_step"), 1)
    onsets_s = [cue.onset_u_s for cue in cues if cue.onset_u_s is not None]
    ends_s = [float(cue.sound.typical_s[_TWO_SECONDS]) for cue in cues if cue.sound is not None]
    step = numbers.number("unknown_size_step")
    least = round(numbers.number("unknown_size_bags"))
    return max(_count(onsets_s, step, least), _count(ends_s, step, least))


def _count(sizes: Sequence[float], step: float, least: int) -> int:
    """Of how many sizes there are at least so many bags; 1 where there are bags and no size has as many."""
    if not sizes:
        return 0
    bags = np.bincount(size_classes(np.array(sizes), step))
    return max(int((bags >= least).sum()), 1)
