"""How the pops of a finished cook lie in time: the form, the location and the clutter that fit best, looking back.

Model. The pops heard are a finite population with one of the forms of service.evidence.pop_times, stretched by a location
on the heating clock, mixed with a share of clutter that is even over CLUTTER_SPAN locations. With the total integrated
out under 1/N, the logarithm of the likelihood is the sum of ln g - n ln G(U) (service.evidence.finite_population). A pop
counts for as many as merged in it at the rate around it, so that a dead time does not flatten the peak; all are then
scaled back to the number heard.

Range. Cooks with MANY_POPS pops or more, listened to well past the peak: with less the location is not known.
"""

from dataclasses import dataclass
from math import exp, log

import numpy as np

from service.evidence.pop_times import EDGES_X, LOWEST, STEP, PopTimes
from service.evidence.rescaling import ks_bound, ks_distance, uniform_residuals
from service.units import FloatArray

MANY_POPS = 40
CLUTTER_SPAN = 3.0
CLUTTER_SHARES: tuple[float, ...] = (0.001, 0.005, 0.02, 0.06, 0.15)
_LOG_LOCATIONS = np.arange(log(24.0), log(900.0), STEP)
_NEAR_S = 1.0
_LEAST_LIVE = 0.3
_TINY = 1e-12
_BEFORE_ALL = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PoppingFit:
    """What fits best.

    Attributes:
        location_u_s: location on the heating clock (s).
        cdf: distribution of x = ln(u / location) at EDGES_X.
        clutter: share of clutter among the sounds.
        distance: Kolmogorov-Smirnov distance of the time-rescaled residuals, the dead time allowed for.
        bound: what that distance stays below in 95 of 100 cooks if the model is right.
        pops: how many were heard.
    """

    location_u_s: float
    cdf: FloatArray
    clutter: float
    distance: float
    bound: float
    pops: int

    def u_s_at_share(self, share: float) -> float:
        """When a share of the kernels that pop has popped (s on the heating clock)."""
        return self.location_u_s * exp(float(np.interp(share, self.cdf, EDGES_X)))

    def begins_u_s(self) -> float:
        """Before this hardly one kernel in 10,000 pops (s on the heating clock)."""
        return self.u_s_at_share(_BEFORE_ALL)


def fit_popping(forms: PopTimes, pops_u_s: FloatArray, until_u_s: float, dead_time_s: float) -> PoppingFit | None:
    """Fit pops (n,) on the heating clock, ascending, listened to until `until_u_s`; None with too few of them."""
    if pops_u_s.size < MANY_POPS:
        return None
    weights = _merged(pops_u_s, dead_time_s)
    tables = [_log_likelihood(forms, clutter, pops_u_s, weights, until_u_s) for clutter in CLUTTER_SHARES]
    share, place, form = np.unravel_index(int(np.stack(tables).argmax()), (len(tables), *tables[0].shape))
    location_u_s = float(np.exp(_LOG_LOCATIONS[place]))
    return _told(forms.cdf[form], CLUTTER_SHARES[share], location_u_s, pops_u_s, dead_time_s)


def _merged(pops_u_s: FloatArray, dead_time_s: float) -> FloatArray:
    """How many pops each one stands for, on average one."""
    near = pops_u_s.searchsorted(pops_u_s + _NEAR_S) - pops_u_s.searchsorted(pops_u_s - _NEAR_S)
    weights: FloatArray = 1.0 / np.maximum(1.0 - near / (2.0 * _NEAR_S) * dead_time_s, _LEAST_LIVE)
    return weights / float(weights.mean())


def _log_likelihood(
    forms: PopTimes, clutter: float, pops_u_s: FloatArray, weights: FloatArray, until_u_s: float
) -> FloatArray:
    """(M, K) over locations, which lie a bin apart, and forms."""
    locations, bins = _LOG_LOCATIONS.size, forms.density.shape[1]
    density = _mixed_density(forms, clutter)
    # A location lies a bin later when the counts are read a bin further on.
    places = np.floor((np.log(np.maximum(pops_u_s, 1.0)) - _LOG_LOCATIONS[0] - LOWEST) / STEP).astype(np.int64)
    inside = (places >= 0) & (places < locations + bins)
    counts = np.bincount(places[inside], weights=weights[inside], minlength=locations + bins).astype(np.float64)
    windows: FloatArray = np.lib.stride_tricks.sliding_window_view(counts, bins)[:locations]
    total = float(weights.sum())
    log_density: FloatArray = windows @ np.log(density).T
    log_density += (total - windows.sum(axis=1))[:, None] * log(clutter / CLUTTER_SPAN)
    log_density -= (total * _LOG_LOCATIONS)[:, None]
    heard = np.array([_mixed_cdf(cdf, clutter, log(max(until_u_s, 1.0)) - _LOG_LOCATIONS) for cdf in forms.cdf]).T
    log_likelihood: FloatArray = log_density + forms.log_prior - total * np.log(np.maximum(heard, _TINY))
    return log_likelihood


def _mixed_density(forms: PopTimes, clutter: float) -> FloatArray:
    centres = (EDGES_X[1:] + EDGES_X[:-1]) / 2.0
    density: FloatArray = (1.0 - clutter) * forms.density * np.exp(-centres) + clutter / CLUTTER_SPAN
    return density


def _mixed_cdf(cdf: FloatArray, clutter: float, x: FloatArray) -> FloatArray:
    share: FloatArray = (1.0 - clutter) * np.interp(x, EDGES_X, cdf) + clutter * np.minimum(
        np.exp(x) / CLUTTER_SPAN, 1.0
    )
    return share


def _told(cdf: FloatArray, clutter: float, location_u_s: float, pops_u_s: FloatArray, dead_time_s: float) -> PoppingFit:
    def share_by(u_s: FloatArray) -> FloatArray:
        return _mixed_cdf(cdf, clutter, np.log(np.maximum(u_s, 1e-3) / location_u_s))

    # After each pop the microphone is blind for a while, in which nothing could be heard.
    ready_u_s = np.minimum(np.concatenate(((0.0,), pops_u_s[:-1] + dead_time_s)), pops_u_s)
    steps = np.maximum(share_by(pops_u_s) - share_by(ready_u_s), 0.0)
    residuals = steps * (pops_u_s.size / max(float(steps.sum()), _TINY))
    return PoppingFit(
        location_u_s=location_u_s,
        cdf=cdf,
        clutter=clutter,
        distance=ks_distance(uniform_residuals(residuals)),
        bound=ks_bound(pops_u_s.size, 0.95),
        pops=pops_u_s.size,
    )
