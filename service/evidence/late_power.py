"""Power that is told too late: pops that come in off-periods, and would come in none if all were told by as much earlier.

Model. Nothing pops in an oven that is off, but for strays. Where many pops come within the off-periods as they were told, and at
most a few if all changes lay the same time earlier, the changes were stamped that much late, as by a hub that writes down when
it heard of one. Of all such times that leave the fewest pops the longest is taken: pops end at once when the heating does, but
begin again only when what was lost has been regained.

Range. Off-periods longer than EDGE_S, told up to MOST_LATE_S late, in which a bag pops briskly.
"""

from dataclasses import replace

import numpy as np

from service.readings.cook import Cook, read_only
from service.units import IntArray

MOST_LATE_S = 15.0
EDGE_S = 1.0
_STEP_MS = 250
_LEAST_POPS, _MOST_LEFT_SHARE = 12, 0.2
_LATE_MS = np.arange(0, round(1000.0 * MOST_LATE_S) + 1, _STEP_MS)


def with_power_in_time(cook: Cook) -> Cook:
    """The same cook with its power as it must have been, if it was told late."""
    if cook.power_ms.size < 3 or not cook.pops_ms.size:
        return cook
    is_off = cook.power_permille[1:-1] == 0
    begun_ms = cook.power_ms[1:-1][is_off] + round(1000.0 * EDGE_S)
    ended_ms = np.maximum(cook.power_ms[2:][is_off], begun_ms)
    if _popped(cook.pops_ms, begun_ms, ended_ms).sum() < _LEAST_POPS:
        return cook
    within = _popped(cook.pops_ms, begun_ms - _LATE_MS[:, None], ended_ms - _LATE_MS[:, None]).sum(axis=1)
    fewest = int(within.min())
    if fewest > _MOST_LEFT_SHARE * within[0]:
        return cook
    late_ms = max(int(_LATE_MS[within == fewest][-1]) - round(1000.0 * EDGE_S), 0)
    at_ms = np.maximum(cook.power_ms - late_ms, 0)
    # Of what would lie before the start the last holds at it.
    last = np.append(at_ms[1:] > at_ms[:-1], True)
    return replace(cook, power_ms=read_only(at_ms[last]), power_permille=read_only(cook.power_permille[last]))


def _popped(pops_ms: IntArray, begun_ms: IntArray, ended_ms: IntArray) -> IntArray:
    """Numbers of pops in periods."""
    counts: IntArray = pops_ms.searchsorted(ended_ms) - pops_ms.searchsorted(begun_ms)
    return counts
