"""Whether a bag has begun to pop: runs of pops, which strays and a steady clutter are not.

Model. A run is `popping_count` pops in `popping_window_s`, or more where what came before it makes such a run likely by chance
(5.5 standard deviations of a Poisson number above its mean). A bag that pops late pops as much more slowly, since weak ovens and
big bags stretch the whole cook: so the window is a share of the time at which it begins, and no less than that.

Range. Pops on the heating clock, or on any clock that begins when pops are possible.
"""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from service.units import FloatArray

Count = TypeVar("Count", float, FloatArray)
_CHANCE_SD = 5.5


@dataclass(frozen=True, slots=True, kw_only=True)
class RunNumbers:
    """Numbers of a programme for the beginning of popping; the programme's file says what each does."""

    popping_count: float
    popping_window_s: float
    popping_window_share: float


def run_of_pops(pops_u_s: FloatArray, numbers: RunNumbers) -> int | None:
    """Index of the first pop of the first run among these (s, ascending); None where there is none."""
    count, least_s, share = int(numbers.popping_count), numbers.popping_window_s, numbers.popping_window_share
    if pops_u_s.size < count:
        return None
    windows_s = np.maximum(share * pops_u_s, least_s)
    close = pops_u_s[count - 1 :] - pops_u_s[: pops_u_s.size - count + 1] <= windows_s[: pops_u_s.size - count + 1]
    first = int(close.argmax())
    if not close[first]:
        return None
    # Mostly the first run tells it, and what came after need not be looked at.
    begins_s, window_s = float(pops_u_s[first]), float(windows_s[first])
    run = int(pops_u_s.searchsorted(begins_s + window_s, side="right")) - first
    if run >= max(_most_by_chance(first * (window_s / max(begins_s, window_s))), count):
        return first
    before = np.arange(pops_u_s.size)
    runs = pops_u_s.searchsorted(pops_u_s + windows_s, side="right") - before
    by_chance = _most_by_chance(before * (windows_s / np.maximum(pops_u_s, windows_s)))
    enough = runs >= np.maximum(by_chance, count)
    first = int(enough.argmax())
    return first if enough[first] else None


def _most_by_chance(expected: Count) -> Count:
    """The longest run that is likely by chance alone where so many pops are expected."""
    longest: Count = expected + _CHANCE_SD * expected**0.5
    return longest
