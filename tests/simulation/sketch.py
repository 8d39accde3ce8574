"""A yardstick: the plainest posterior over pop times, as one sets out to build it.

Pops are counted by the second of the heating clock, the integral of the level. Every kernel pops at a log-normal time; the time
of most pops and the spread are unknown, each even over a grid of logarithms, with a little clutter; the number of kernels is
integrated out, and a fifth of all pops is taken for missed. The stop is when half of all listeners to the mean intensity would
have heard two seconds of silence. A silence that the posterior finds next to impossible freezes what was heard before it: the
microphone has died. It knows nothing of dead time, cooling, other shapes or early strays, and cannot tell where there is hardly
any sound: then a steam clock must stand in.
"""

from collections.abc import Sequence

import numpy as np

from tests.simulation.kernels import FloatArray
from tests.simulation.network import Post
from tests.simulation.truth import GAP_S, GRID_S, listeners_done

LEAST_POPS = 40
DIED = 1e-4
HEARD_SHARE = 0.8
CLUTTER, LONGEST_S = 0.01, 600
_LOCATION_S, _SPREAD = (
    axis.reshape(-1, 1) for axis in np.meshgrid(np.geomspace(35, 400, 50), np.geomspace(0.07, 0.35, 8))
)
_SECOND = np.arange(LONGEST_S) + 0.5
_BELL = np.exp(-0.5 * (np.log(_SECOND / _LOCATION_S) / _SPREAD) ** 2) / _SECOND
_DENSITY = (1.0 - CLUTTER) * _BELL / _BELL.sum(axis=1, keepdims=True) + CLUTTER / LONGEST_S
_LOG_DENSITY, _CDF = np.log(_DENSITY), _DENSITY.cumsum(axis=1)
_FINE_S = np.arange(0.0, LONGEST_S, GRID_S)


def sketch_stop_s(log: Sequence[Post]) -> float | None:
    """When the sketch would stop a cook by its sound; None when there is too little of it."""
    heard: set[float] = set()
    power: dict[float, float] = {}
    newest_s = 0.0
    for post in log:
        heard.update(post["readings"].get("pops", ()))
        power.update((one["t"], one["level"]) for one in post["readings"].get("power", ()))
        newest_s = max(newest_s, *(one["t"] for one in post["readings"].get("humidity", ())), 0.0)
        if len(heard) >= LEAST_POPS:
            listened_s = max(newest_s, max(heard)) if newest_s > 0.0 else post["as_of"]
            now_u_s, listened_u_s, *pops_u_s = _heated_s(np.array([post["as_of"], listened_s, *sorted(heard)]), power)
            if _is_over(np.array(pops_u_s), listened_u_s, now_u_s):
                return float(post["as_of"])
    return None


def _heated_s(t_s: FloatArray, power: dict[float, float]) -> FloatArray:
    """The heating clock at these times: the integral of the level, which is one before anything is said of it."""
    at_s = np.array([0.0, *sorted(power), 1e6])
    level = np.array([1.0, *(power[t] for t in sorted(power))])
    heated: FloatArray = np.interp(t_s, at_s, np.concatenate(([0.0], np.cumsum(level * np.diff(at_s)))))
    return heated


def _is_over(pops_u_s: FloatArray, listened_u_s: float, now_u_s: float) -> bool:
    last_u_s = float(pops_u_s[-1])
    rate = _rate_per_s(pops_u_s, last_u_s)
    if np.exp(-HEARD_SHARE * rate[int(last_u_s) : int(listened_u_s)].sum()) >= DIED:
        rate = _rate_per_s(pops_u_s, listened_u_s)
    fine = np.interp(_FINE_S, _SECOND, rate)
    share = listeners_done(fine, int(fine.argmax()), GAP_S)
    return bool(share[min(int(now_u_s / GRID_S), _FINE_S.size - 1)] >= 0.5)


def _rate_per_s(pops_u_s: FloatArray, until_s: float) -> FloatArray:
    """Posterior mean of the intensity of all pops in every second, from those heard until then."""
    seen = min(int(until_s), LONGEST_S - 1)
    counts = np.bincount(np.minimum(pops_u_s, seen).astype(int), minlength=seen + 1)
    log_weight = _LOG_DENSITY[:, : seen + 1] @ counts - len(pops_u_s) * np.log(_CDF[:, seen])
    weight = np.exp(log_weight - log_weight.max())
    kernels = len(pops_u_s) / _CDF[:, seen] / HEARD_SHARE
    rate: FloatArray = (weight / weight.sum() * kernels) @ _DENSITY
    return rate
