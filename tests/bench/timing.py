"""Timings side by side, in processor time: all calls take turns, so that whatever else the machine does troubles them alike."""

import gc
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from time import thread_time_ns

import numpy as np

from tests.cooks import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Timed:
    """Processor time that a call took (microseconds): the median of its turns, and the least."""

    median_us: float
    least_us: float


def side_by_side(calls: Mapping[str, Callable[[], object]], *, turns: int) -> dict[str, Timed]:
    """Time every call `turns` times in alternation, after two that do not count."""
    took_us: dict[str, FloatArray] = {name: np.empty(turns) for name in calls}
    gc.collect()
    for turn in range(-2, turns):
        for name, call in calls.items():
            began_ns = thread_time_ns()
            call()
            ended_ns = thread_time_ns()
            if turn >= 0:
                took_us[name][turn] = (ended_ns - began_ns) / 1000.0
    return {
        name: Timed(median_us=float(np.median(all_us)), least_us=float(all_us.min()))
        for name, all_us in took_us.items()
    }
