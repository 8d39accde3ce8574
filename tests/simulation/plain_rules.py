"""The plain rules that the service must beat, read from the same posts.

The first silence: stop when ten sounds have been heard and none for two seconds. The steam clock: stop at a constant times
the moment at which humidity was first seen to rise. The timer: stop at a constant. Both constants are the best that one can
choose with hindsight over the very cooks that are scored; for reheats, which make no sound, there is also a steam clock with a
constant of its own.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from tests.simulation.kernels import FloatArray
from tests.simulation.network import Post
from tests.simulation.sensors import saturation_g_m3

SOUNDS_FIRST = 10
SILENCE_S = 2.0
RISE_PCT = 3.0
RISE_G_M3 = 1.5
UNKNOWN_AIR_C = 30.0
REHEAT_STEAM_RATIO = 1.35
GRACE_S = 4.0

Reading = Mapping[str, Any]
Windows = Sequence[tuple[float, float]]


def first_silence_s(log: Sequence[Post]) -> float | None:
    """When the first two seconds without a sound are seen after ten sounds; None when they never are."""
    heard: set[float] = set()
    for post in log:
        heard.update(post["readings"].get("pops", ()))
        if len(heard) >= SOUNDS_FIRST and post["as_of"] - max(heard) >= SILENCE_S:
            return float(post["as_of"])
    return None


def steam_seen_s(log: Sequence[Post]) -> float | None:
    """When relative humidity is first seen well above its lowest so far; None when it never is."""
    return _rise_seen_s(log, lambda reading: float(reading["rh_pct"]), RISE_PCT)


def vapour_seen_s(log: Sequence[Post]) -> float | None:
    """When vapour is first seen well above its lowest so far: an opened door cools the air, and moves relative humidity alone."""
    return _rise_seen_s(log, _vapour_g_m3, RISE_G_M3)


def _vapour_g_m3(reading: Reading) -> float:
    warm_c = np.array([reading.get("air_c", UNKNOWN_AIR_C)])
    return float(saturation_g_m3(warm_c)[0]) * float(reading["rh_pct"]) / 100.0


def _rise_seen_s(log: Sequence[Post], moisture_of: Callable[[Reading], float], rise: float) -> float | None:
    """When moisture is first seen this far above its lowest so far.

    A reading older than one that came before it is left out: an old level would look like a rise.
    """
    newest_s, lowest = -1.0, float("inf")
    for post in log:
        for reading in sorted(post["readings"].get("humidity", ()), key=lambda one: float(one["t"])):
            if reading["t"] <= newest_s:
                continue
            moisture = moisture_of(reading)
            if moisture > lowest + rise:
                return float(post["as_of"])
            newest_s, lowest = reading["t"], min(lowest, moisture)
    return None


def best_ratio(seen_s: Sequence[float | None], windows: Windows) -> float:
    """The constant that brings most steam clocks into their windows."""
    ratios = np.arange(1.0, 2.0, 0.01)
    known = [(seen, window) for seen, window in zip(seen_s, windows, strict=True) if seen is not None]
    stops = np.outer(ratios, np.array([seen for seen, _ in known]))
    return _best(ratios, stops, [window for _, window in known])


def best_timer_s(windows: Windows) -> float:
    """The time that lies in most windows."""
    times = np.arange(30.0, 600.0, 1.0)
    return _best(times, np.repeat(times[:, None], len(windows), axis=1), windows)


def _best(constants: FloatArray, stops_s: FloatArray, windows: Windows) -> float:
    """The middle of the constants that are best, given the stops each would make: shape (constants, cooks)."""
    if not windows:
        return float(constants[0])
    early, late = np.array(windows).T
    hits = ((stops_s >= early - GRACE_S) & (stops_s <= late + GRACE_S)).sum(axis=1)
    return float(np.median(constants[hits == hits.max()]))
