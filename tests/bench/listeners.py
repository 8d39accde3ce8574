"""Other ways to decide from the sound of a bag, each of them what one would reach for first, with a well-known library or none.

Each hears the pops so far (s, sorted) and the moment, post after post, and says whether to stop. All share the rule of the
service where they have a forecast: stop when the first silence of two seconds is typically heard within LEAD_S.
"""

from collections.abc import Callable
from importlib.util import find_spec
from math import exp, log
from typing import Any

import numpy as np
from scipy import optimize, stats

from service.forecast.first_silence import first_cells, log_typical_stop
from service.forecast.popcorn_model import popcorn_model
from tests.cooks import POPCORN, FloatArray

Listener = Callable[[FloatArray, float], bool]

LEAD_S = POPCORN.number("decision_lead_s")
GAP_S = POPCORN.number("gap_s")
FEWEST = 25
_FORMS = popcorn_model(POPCORN).grid.forms
_PARTICLES = 1000


def typical_stop_s(kernels: FloatArray, location_s: FloatArray, spread: FloatArray) -> FloatArray:
    """Typical first silence of even bags: the table of the service at the nearest spread, every third of its forms being even."""
    even = _FORMS.spread[::3]
    form = 3 * np.abs(np.log(even)[:, None] - np.log(spread)).argmin(axis=0)
    silence = popcorn_model(POPCORN).silence
    stop_s: FloatArray = np.exp(
        log_typical_stop(silence, first_cells(form), np.log(kernels), np.log(location_s), log(GAP_S))
    )
    return stop_s


def refitting() -> Listener:
    """A log-normal bag, its total integrated out, fitted anew at every post by scipy's general optimiser."""

    def stops(pops_s: FloatArray, as_of_s: float) -> bool:
        if pops_s.size < FEWEST:
            return False
        log_pops, log_now = np.log(pops_s), log(as_of_s)

        def misfit(at: FloatArray) -> float:
            spread = exp(at[1])
            reached = max(float(stats.norm.cdf(log_now, at[0], spread)), 1e-12)
            return float(pops_s.size * log(reached) - stats.norm.logpdf(log_pops, at[0], spread).sum())

        start = np.array((log_pops.mean(), log(max(log_pops.std(), 0.05))))
        bounds = ((log(20.0), log(900.0)), (log(0.05), log(0.35)))
        found = optimize.minimize(misfit, start, method="L-BFGS-B", bounds=bounds).x
        kernels = pops_s.size / max(float(stats.norm.cdf(log_now, found[0], exp(found[1]))), 1e-3)
        stop_s = typical_stop_s(np.array((kernels,)), np.exp(found[:1]), np.exp(found[1:]))
        return bool(stop_s[0] <= as_of_s + LEAD_S)

    return stops


def change_point() -> Listener:
    """Pops a second cut into pieces by ruptures: stop when the last piece is slower than a pop in two seconds."""
    import ruptures

    def stops(pops_s: FloatArray, as_of_s: float) -> bool:
        if pops_s.size < FEWEST:
            return False
        counts = np.histogram(pops_s, np.arange(0.0, as_of_s + 1.0))[0].astype(np.float64)
        if counts.size < 10:
            return False
        ends: list[int] = ruptures.Pelt(model="l2", min_size=3, jump=1).fit(counts).predict(pen=8.0)
        return len(ends) > 2 and bool(counts[ends[-2] :].mean() < 1.0 / GAP_S)

    return stops


def drift_detector() -> Listener:
    """Gaps between pops watched by river's Page-Hinkley test: stop at a rise of the gaps, after the popping has been brisk."""
    from river import drift

    detector: Any = drift.PageHinkley(min_instances=FEWEST, delta=0.05, threshold=4.0, mode="up")
    heard = 0

    def stops(pops_s: FloatArray, as_of_s: float) -> bool:
        nonlocal heard
        risen = False
        for gap_s in np.diff(pops_s[max(heard - 1, 0) :]).tolist():
            detector.update(gap_s)
            risen = risen or bool(detector.drift_detected)
        heard = pops_s.size
        return risen

    return stops


def particles() -> Listener:
    """A thousand log-normal bags, weighed by the pops of each post and drawn anew when few are left with weight."""
    rng = np.random.default_rng(0)
    log_location = rng.normal(log(POPCORN.number("typical_location_s")), POPCORN.number("location_log_sd"), _PARTICLES)
    log_spread = rng.normal(log(POPCORN.number("spread_typical")), 0.3, _PARTICLES)
    log_total = rng.normal(log(POPCORN.number("kernels_typical") * POPCORN.number("heard_share")), 0.4, _PARTICLES)
    held, log_weight = np.stack((log_location, log_spread, log_total)), np.zeros(_PARTICLES)
    heard, listened_s = 0, 1.0

    def stops(pops_s: FloatArray, as_of_s: float) -> bool:
        nonlocal held, log_weight, heard, listened_s
        if as_of_s <= listened_s:
            return False
        new, location, spread, total = pops_s[heard:], held[0], np.exp(held[1]), np.exp(held[2])
        before, now = (stats.norm.cdf(log(t_s), location, spread) for t_s in (listened_s, as_of_s))
        density = stats.norm.pdf(np.log(np.maximum(new, 1.0))[:, None], location, spread)
        rate = total * density / np.maximum(new, 1.0)[:, None] + 0.01
        log_weight = log_weight + np.log(rate).sum(axis=0) - total * (now - before)
        heard, listened_s = pops_s.size, as_of_s
        weight = np.exp(log_weight - log_weight.max())
        weight /= weight.sum()
        if 1.0 / (weight**2).sum() < _PARTICLES / 2:
            drawn = rng.choice(_PARTICLES, _PARTICLES, p=weight)
            sd = 0.3 * np.sqrt(np.cov(held, aweights=weight).diagonal())[:, None] + 1e-4
            held, log_weight = held[:, drawn] + rng.normal(0.0, sd, held.shape), np.zeros(_PARTICLES)
            weight = np.full(_PARTICLES, 1.0 / _PARTICLES)
        if pops_s.size < FEWEST:
            return False
        kernels, spreads = np.exp(held[2]), np.exp(held[1]).clip(0.05, 0.35)
        log_stop = np.log(typical_stop_s(kernels, np.exp(held[0]), spreads))
        return exp(float(weight @ log_stop)) <= as_of_s + LEAD_S

    return stops


LISTENERS: dict[str, Callable[[], Listener]] = {
    "refit by scipy.optimize": refitting,
    "change point by ruptures": change_point,
    "drift detector of river": drift_detector,
    "1,000 particles in numpy": particles,
}
NEEDS = {"change point by ruptures": "ruptures", "drift detector of river": "river"}


def at_hand() -> dict[str, Callable[[], Listener]]:
    """Those whose library is installed."""
    return {name: make for name, make in LISTENERS.items() if name not in NEEDS or find_spec(NEEDS[name])}
