"""Three plain rules that the service must beat, read from the same posts.

The first silence: stop when ten sounds have been heard and none for two seconds. The steam clock: stop at a constant times
the moment at which humidity was first seen to rise. The timer: stop at a constant. Both constants are the best that one can
choose with hindsight over the very cooks that are scored.
"""

from collections.abc import Sequence

import numpy as np

from tests.simulation.kernels import FloatArray
from tests.simulation.network import Post

SOUNDS_FIRST = 10
SILENCE_S = 2.0
RISE_PCT = 3.0
GRACE_S = 4.0

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
    """When relative humidity is first seen well above its lowest so far; None when it never is.

    A reading older than one that came before it is left out: an old level would look like a rise.
    """
    newest_s, lowest_pct = -1.0, 100.0
    for post in log:
        for reading in sorted(post["readings"].get("humidity", ()), key=lambda one: float(one["t"])):
            if reading["t"] > newest_s and reading["rh_pct"] > lowest_pct + RISE_PCT:
                return float(post["as_of"])
            if reading["t"] > newest_s:
                newest_s, lowest_pct = reading["t"], min(lowest_pct, reading["rh_pct"])
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
