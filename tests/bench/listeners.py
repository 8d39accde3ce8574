"""Other ways to decide about a bag, each of them what one would reach for first, with a well-known library or none.

Each is asked post after post, and says when to stop on the heating clock. What they share with the service they are given
free: the heating clock, the programme's numbers, the table of first silences, and the onset of steam as the service dates it.
Those that know a bag by parameters hold what is heard against the same model as the service, of one form of bag: log-normal,
with a little clutter, and a microphone that is blind for a while after each pop.
"""

from collections.abc import Callable
from importlib.util import find_spec
from math import log, sqrt
from typing import Any, NamedTuple

import numpy as np
from scipy import optimize, special

from service.evidence.pop_grid import CLUTTER_SPAN
from service.forecast.bag_prior import bag_prior
from service.forecast.first_silence import first_cells, log_typical_stop
from service.forecast.popcorn_model import popcorn_model
from tests.cooks import POPCORN, FloatArray

FEWEST = 25
_PARTICLES = 1000
# These, and the thresholds below, did best of some dozens on three cooks of each kind from seed 9000.
_BIN_S, _SLOW = 0.5, 3.0
_MODEL = popcorn_model(POPCORN)
_BAG = bag_prior(_MODEL.programme, _MODEL.grid, None, None)
_LOG_SPREAD, _SPREAD_LOG_SD = log(POPCORN.number("spread_typical")), POPCORN.number("spread_log_sd")
_LOG_CLUTTER, _CLUTTER_LOG_SD = log(0.02), 1.5
_OPENING, _OPENING_SD = POPCORN.number("opening_score"), POPCORN.number("opening_score_sd")
# The first of the three forms of every spread is the log-normal one.
_LOG_LEVELS = np.log(_MODEL.grid.forms.spread[::3])
_MIDDLE = np.array((_BAG.log_location, _LOG_SPREAD, _LOG_CLUTTER))
_LOG_SD = np.array((_BAG.location_log_sd, _SPREAD_LOG_SD, _CLUTTER_LOG_SD))


class Heard(NamedTuple):
    """What there is to decide from at one post, in seconds on the heating clock.

    Attributes:
        pops_u_s: the pops so far, ascending.
        until_u_s: until when all that was heard has arrived.
        now_u_s: the moment of the post.
        gap_u_s, dead_u_s: the silence that ends a bag, and how long the microphone is blind after a pop.
        looks_for_steam, onset_u_s: whether there is a humidity sensor, and the onset of steam; None where none was seen.
    """

    pops_u_s: FloatArray
    until_u_s: float
    now_u_s: float
    gap_u_s: float
    dead_u_s: float
    looks_for_steam: bool
    onset_u_s: float | None


Listener = Callable[[Heard], float | None]
"""When to stop, in seconds on the heating clock: the moment itself or sooner is now, None is not yet known."""


def log_typical_stop_u(log_heard: FloatArray, bag: FloatArray, gap_u_s: float) -> FloatArray:
    """(n,) logarithm of the typical first silence of (3, n) bags of which so many pops will be heard.

    It is read between the two nearest spreads of the service's table.
    """
    log_kernels = log_heard - _BAG.share.at(log_heard)
    within = np.interp(bag[1], _LOG_LEVELS, np.arange(_LOG_LEVELS.size))
    level = np.minimum(within.astype(np.intp), _LOG_LEVELS.size - 2)
    below, above = (
        log_typical_stop(_MODEL.silence, first_cells(3 * (level + more)), log_kernels, bag[0], log(gap_u_s))
        for more in (0, 1)
    )
    log_stop: FloatArray = below + (within - level) * (above - below)
    return log_stop


def density(u_s: FloatArray, bag: FloatArray) -> FloatArray:
    """(n, k) that of a pop at each of (k,) times, for (3, n) logarithms of location, spread and share of clutter."""
    location, spread, clutter = bag[0][:, None], np.exp(bag[1])[:, None], np.exp(bag[2])[:, None]
    log_u = np.log(np.maximum(u_s, 1.0))
    clean = np.exp(-0.5 * ((log_u - location) / spread) ** 2 - log_u) / (spread * np.sqrt(2.0 * np.pi))
    mixed: FloatArray = (1.0 - clutter) * clean + clutter * np.exp(-location) / CLUTTER_SPAN
    return mixed


def popped(u_s: float, bag: FloatArray) -> FloatArray:
    """(n,) share of all sounds that has come by then."""
    clutter = np.exp(bag[2])
    clean = special.ndtr((log(max(u_s, 1.0)) - bag[0]) / np.exp(bag[1]))
    share: FloatArray = (1.0 - clutter) * clean + clutter * np.minimum(u_s * np.exp(-bag[0]) / CLUTTER_SPAN, 1.0)
    return share


def log_opening(onset_u_s: float | None, bag: FloatArray) -> FloatArray | float:
    """(n,) logarithm of how likely these bags open at this onset."""
    if onset_u_s is None:
        return 0.0
    score = (log(max(onset_u_s, 1.0)) - bag[0]) / np.exp(bag[1])
    log_density: FloatArray = -0.5 * ((score - _OPENING) / _OPENING_SD) ** 2 - bag[1]
    return log_density


def refitting() -> Listener:
    """The most likely bag, its total integrated out, fitted anew at every post by scipy's L-BFGS-B from the last fit."""
    last = _MIDDLE
    prior = _BAG.pops
    bounds = ((log(24.0), log(900.0)), (log(0.05), log(0.35)), (log(0.001), log(0.5)))

    def stops(heard: Heard) -> float | None:
        nonlocal last
        pops = heard.pops_u_s.size
        if pops < FEWEST:
            return None

        def exposure(bag: FloatArray, at: FloatArray) -> float:
            """What the expected number is multiplied with: less where the microphone was blind."""
            blind = heard.dead_u_s * float(at.sum())
            return max(float(popped(heard.until_u_s, bag)[0]) - blind, 1e-3) + prior.rate

        def misfit(log_bag: FloatArray) -> float:
            bag = log_bag[:, None]
            at = density(heard.pops_u_s, bag)
            log_likelihood = float(np.log(at).sum()) - (pops + prior.shape) * log(exposure(bag, at))
            beforehand = -0.5 * float((((log_bag - _MIDDLE) / _LOG_SD) ** 2).sum())
            return -(log_likelihood + beforehand + float(np.sum(log_opening(heard.onset_u_s, bag))))

        last = optimize.minimize(misfit, last, method="L-BFGS-B", bounds=bounds).x
        bag = last[:, None]
        total = (pops + prior.shape) / exposure(bag, density(heard.pops_u_s, bag))
        log_heard = np.log(total * (1.0 - np.exp(bag[2])))
        return float(np.exp(log_typical_stop_u(log_heard, bag, heard.gap_u_s)[0]))

    return stops


def particles() -> Listener:
    """A thousand bags, weighed by the pops of each post and drawn anew when few are left with weight."""
    rng = np.random.default_rng(0)
    middle = np.append(_MIDDLE, log(_BAG.pops.shape / _BAG.pops.rate))
    log_sd = np.append(_LOG_SD, _BAG.pops.shape**-0.5)
    held = rng.normal(middle[:, None], log_sd[:, None], (4, _PARTICLES))
    log_weight = np.zeros(_PARTICLES)
    pops, until_u_s, onset_u_s = 0, 0.0, None

    def stops(heard: Heard) -> float | None:
        nonlocal held, log_weight, pops, until_u_s, onset_u_s
        new, total = heard.pops_u_s[pops:], np.exp(held[3])
        rate = total[:, None] * density(new, held)
        expected = total * (popped(heard.until_u_s, held) - popped(until_u_s, held))
        log_weight += np.log(rate).sum(axis=1) - expected + heard.dead_u_s * rate.sum(axis=1)
        log_weight += log_opening(heard.onset_u_s, held) - log_opening(onset_u_s, held)
        pops, until_u_s, onset_u_s = heard.pops_u_s.size, heard.until_u_s, heard.onset_u_s
        weight = np.exp(log_weight - log_weight.max())
        weight /= weight.sum()
        if 1.0 / (weight**2).sum() < _PARTICLES / 2:
            # Moved a little, and as much towards their mean, so that their spread stays what it is.
            mean, spread = held @ weight, np.sqrt(np.cov(held, aweights=weight).diagonal())
            drawn = held[:, rng.choice(_PARTICLES, _PARTICLES, p=weight)]
            held = 0.98 * drawn + 0.02 * mean[:, None] + rng.normal(0.0, 0.2 * spread[:, None], drawn.shape)
            held[2] = np.minimum(held[2], log(0.5))
            log_weight, weight = np.zeros(_PARTICLES), np.full(_PARTICLES, 1.0 / _PARTICLES)
        if heard.pops_u_s.size < FEWEST:
            return None
        log_heard = held[3] + np.log(1.0 - np.exp(held[2]))
        return float(np.exp(weight @ log_typical_stop_u(log_heard, held, heard.gap_u_s)))

    return stops


def change_point() -> Listener:
    """Sounds in bins of half a second cut into pieces by ruptures: stop when the last piece is slow, and was faster before.

    The counts are drawn to a variance of one (Anscombe), so that a penalty of twice the logarithm of their number suits them.
    """
    import ruptures

    def stops(heard: Heard) -> float | None:
        if heard.pops_u_s.size < FEWEST:
            return None
        # Counted back from now, so that the last bin is a whole one.
        edges_u_s = np.arange(heard.until_u_s, -_BIN_S, -_BIN_S)[::-1]
        counts = np.histogram(heard.pops_u_s, edges_u_s)[0]
        even = 2.0 * np.sqrt(counts + 0.375)
        cuts = ruptures.KernelCPD(kernel="linear", min_size=2).fit(even[:, None])
        *before, _ = cuts.predict(pen=2.0 * log(counts.size))
        ended = len(before) >= 2 and counts[before[-1] :].mean() < _SLOW * _BIN_S / heard.gap_u_s
        return heard.now_u_s if ended else None

    return _once_it_steams(stops)


def drift_detector() -> Listener:
    """Sounds a second, drawn to an even variance, watched by river's Page-Hinkley test: stop where they have fallen."""
    from river import drift

    detector: Any = drift.PageHinkley(min_instances=30, delta=0.0, threshold=10.0, alpha=0.99, mode="down")
    seconds, fallen = 0, False

    def stops(heard: Heard) -> float | None:
        nonlocal seconds, fallen
        whole = int(heard.until_u_s)
        for count in np.histogram(heard.pops_u_s, np.arange(seconds, whole + 1))[0].tolist():
            detector.update(2.0 * sqrt(count + 0.375))
            fallen = fallen or bool(detector.drift_detected)
        seconds = whole
        return heard.now_u_s if fallen and heard.pops_u_s.size >= FEWEST else None

    return _once_it_steams(stops)


def _once_it_steams(listener: Listener) -> Listener:
    """The same, but where steam is looked for no sooner than it comes: no bag is done before it opens."""
    return lambda heard: None if heard.looks_for_steam and heard.onset_u_s is None else listener(heard)


LISTENERS: dict[str, Callable[[], Listener]] = {
    "refit by scipy.optimize": refitting,
    "1,000 particles in numpy": particles,
    "change point by ruptures": change_point,
    "drift detector of river": drift_detector,
}
NEEDS = {"change point by ruptures": "ruptures", "drift detector of river": "river"}


def at_hand() -> dict[str, Callable[[], Listener]]:
    """Those whose library is installed."""
    return {name: make for name, make in LISTENERS.items() if name not in NEEDS or find_spec(NEEDS[name])}
