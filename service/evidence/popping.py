"""How far the popping has come: likelihood of the heard pops over a grid of pop-time densities.

Model. The pops that are heard are a finite population with random pop times (service.evidence.finite_population) of one
of the forms of service.evidence.pop_times, stretched by a location on the heating clock, mixed with a small share of
clutter that is spread evenly over CLUTTER_SPAN locations. The total is integrated out, so for each grid point

    ln L = sum of n_i ln g_i - (n + shape) ln(G(U) + rate),

with n_i pops in bin i of ln u, g the mixed density, G its distribution at U, the end of what was listened to. The bins
are as wide in ln u as the grid is in ln location, so one table of ln g serves all locations and the sum is a matrix
product whose cost does not grow with the cook.

A dead time makes pops merge where they are dense. Each bin's count is divided by the live share at the smoothed rate,
and all counts are then scaled back to the number heard, so that the correction adds shape and not certainty.

Range. Heating clock from LOWEST_S to HIGHEST_S; up to 20,000 pops.

Reference. service.evidence.finite_population, service.evidence.dead_time.
"""

from dataclasses import dataclass
from math import floor, log

import numpy as np

from service.evidence.finite_population import log_marginal
from service.evidence.pop_times import BINS, CENTRES_X, EDGES_X, LOWEST, STEP, PopTimes
from service.units import FloatArray, IntArray

LOWEST_S, HIGHEST_S = 24.0, 900.0
"""Locations on the grid, on the heating clock (s)."""
CLUTTER_SPAN = 3.0
_LOCATIONS = int(np.log(HIGHEST_S / LOWEST_S) / STEP)
_LOG_LOWEST = float(np.log(LOWEST_S))
# The first bin of ln u that the lowest location reaches, and as many bins as the highest one reaches.
_LOG_FIRST = _LOG_LOWEST + LOWEST
_TIME_BINS = _LOCATIONS + BINS
_TIME_EDGES_S = np.exp(_LOG_FIRST + np.arange(_TIME_BINS + 1) * STEP)
_TIME_LENGTHS_S = np.diff(_TIME_EDGES_S)
_NEARBY = np.ones(5)
_COARSE, _EVERY = 4, 5
# Locations further from the end of listening than the pop times reach are hopeless, but for a little clutter.
_FARTHEST_BEFORE, _FARTHEST_AFTER = round(0.9 / STEP), round(1.2 / STEP)
_TINY = 1e-12
_UNLIKELY = 30.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeTable:
    """A table over the edges of the bins of x, to be read off for a run of locations at once.

    ln u is one number and the locations lie a bin apart, so their x fall by one bin from each to the next, and all
    interpolate with the same share: two slices do. The table is held backwards, its ends repeated as far as any
    location can ask.
    """

    backwards: FloatArray

    def some(self, every: int) -> "EdgeTable":
        """The same over every so-manieth column."""
        return EdgeTable(backwards=np.ascontiguousarray(self.backwards[:, ::every]))

    def at(self, log_u: float, rows: slice) -> FloatArray:
        """Values at x = log_u - log_location for the locations `rows` of the grid: (m, c)."""
        place = (log_u - _LOG_FIRST) / STEP
        whole = floor(place)
        share = place - whole
        start = min(max(BINS + _LOCATIONS - whole, 0), BINS + _LOCATIONS + 1)
        step = rows.step or 1
        lower = self.backwards[start + rows.start : start + rows.stop : step]
        upper = self.backwards[max(start - 1, 0) + rows.start : max(start - 1, 0) + rows.stop : step]
        values: FloatArray = lower * (1.0 - share) + upper * share
        return values


def edge_table(values: FloatArray) -> EdgeTable:
    """From values (BINS + 1, c) at the edges of the bins of x."""
    ends = (np.repeat(values[-1:], _LOCATIONS, axis=0), values[::-1], np.repeat(values[:1], _LOCATIONS + BINS, axis=0))
    return EdgeTable(backwards=np.ascontiguousarray(np.concatenate(ends)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
    """Every form at every share of clutter, C columns.

    Attributes:
        form: (C,) index into the forms.
        clutter: (C,) share of clutter.
        log_prior: (C,) logarithm of the prior weight.
        log_clutter: (C,) logarithm of the density of clutter alone.
        log_mixed: (BINS, C) logarithm of the mixed density of u / location.
        cdf_mixed: its distribution.
    """

    form: IntArray
    clutter: FloatArray
    log_prior: FloatArray
    log_clutter: FloatArray
    log_mixed: FloatArray
    cdf_mixed: EdgeTable

    def some(self, every: int) -> "Columns":
        """Every so-manieth column."""
        return Columns(
            form=self.form[::every],
            clutter=self.clutter[::every],
            log_prior=self.log_prior[::every],
            log_clutter=self.log_clutter[::every],
            log_mixed=np.ascontiguousarray(self.log_mixed[:, ::every]),
            cdf_mixed=self.cdf_mixed.some(every),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PopGrid:
    """The tables that no pop changes, for M locations.

    Attributes:
        log_location: (M,) logarithm of the location in s on the heating clock.
        columns: all columns, and `few`: some of them, to find the region that matters.
        forms: what the columns are made of.
    """

    log_location: FloatArray
    columns: Columns
    few: Columns
    forms: PopTimes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PopPrior:
    """What is known beforehand: (M,) log weights of the locations, and a Gamma prior of the number that will be heard."""

    log_location: FloatArray
    shape: float
    rate: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PopLikelihood:
    """The log-likelihood over a run of locations that holds all that is not hopeless.

    Attributes:
        first: index of the first location of the run.
        log_likelihood: (m, C).
        cdf: (m, C) share of all that will be heard that was heard by the end of listening.
        pops: number heard, and `pops_corrected`: with those that merged in the dead time.
    """

    first: int
    log_likelihood: FloatArray
    cdf: FloatArray
    pops: int
    pops_corrected: float


def pop_grid(forms: PopTimes, clutter: FloatArray, clutter_weight: FloatArray) -> PopGrid:
    """Build the tables for these shares of clutter with their prior weights."""
    share = clutter[:, None, None]
    mixed = (1.0 - share) * forms.density * np.exp(-CENTRES_X) + share / CLUTTER_SPAN
    cdf = (1.0 - share) * forms.cdf + share * np.minimum(np.exp(EDGES_X) / CLUTTER_SPAN, 1.0)
    count = clutter.size * forms.spread.size
    columns = Columns(
        form=np.tile(np.arange(forms.spread.size, dtype=np.int32), clutter.size),
        clutter=np.repeat(clutter, forms.spread.size),
        log_prior=(np.log(clutter_weight)[:, None] + forms.log_prior).ravel(),
        log_clutter=np.repeat(np.log(clutter / CLUTTER_SPAN), forms.spread.size),
        log_mixed=np.ascontiguousarray(np.log(mixed + _TINY).reshape(count, BINS).T),
        cdf_mixed=edge_table(cdf.reshape(count, BINS + 1).T),
    )
    return PopGrid(
        log_location=_LOG_LOWEST + np.arange(_LOCATIONS, dtype=np.float64) * STEP,
        columns=columns,
        few=columns.some(_EVERY),
        forms=forms,
    )


def pop_likelihood(
    grid: PopGrid, prior: PopPrior, pops_u_s: FloatArray, until_u_s: float, dead_time_s: float
) -> PopLikelihood:
    """Likelihood of pops at these times on the heating clock (s, any order), listened to until `until_u_s`."""
    heard = _counts(pops_u_s, until_u_s, dead_time_s)
    run = _run_of_locations(grid, prior, heard)
    log_likelihood, cdf = _log_likelihood(grid, prior, grid.columns, heard, run)
    return PopLikelihood(
        first=run.start, log_likelihood=log_likelihood, cdf=cdf, pops=heard.pops, pops_corrected=heard.corrected
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Heard:
    """Counts per bin of ln u, scaled to the number of pops heard; with the corrected number and the end of listening.

    windows: (M, BINS) the counts around each location, a view; `within`: (M,) their sums.
    """

    windows: FloatArray
    within: FloatArray
    pops: int
    corrected: float
    log_until: float


def _counts(pops_u_s: FloatArray, until_u_s: float, dead_time_s: float) -> _Heard:
    counts = np.zeros(_TIME_BINS)
    pops = corrected = float(pops_u_s.size)
    if pops_u_s.size:
        places = (np.log(np.maximum(pops_u_s, _TIME_EDGES_S[0])) - _LOG_FIRST) * (1.0 / STEP)
        bins = np.minimum(places.astype(np.int64), _TIME_BINS - 1)
        # At least as many bins as the rate is smoothed over.
        first = min(max(int(bins.min()) - 2, 0), _TIME_BINS - _NEARBY.size)
        last = max(min(int(bins.max()) + 3, _TIME_BINS), first + _NEARBY.size)
        heard = np.bincount(bins - first, minlength=last - first).astype(np.float64)
        heard /= _live_share(heard, until_u_s, slice(first, last), dead_time_s)
        corrected = float(heard.sum())
        counts[first:last] = heard * (pops / corrected)
    windows: FloatArray = np.ndarray((_LOCATIONS, BINS), buffer=counts, strides=(counts.itemsize, counts.itemsize))
    running = np.concatenate(((0.0,), np.cumsum(counts)))
    within = running[BINS : BINS + _LOCATIONS] - running[:_LOCATIONS]
    return _Heard(windows=windows, within=within, pops=int(pops), corrected=corrected, log_until=log(max(until_u_s, 1.0)))


def _live_share(counts: FloatArray, until_u_s: float, bins: slice, dead_time_s: float) -> FloatArray:
    """Share of each bin in which the detector was not blind, at the rate smoothed over five bins."""
    listened_s = np.minimum(np.maximum(until_u_s - _TIME_EDGES_S[:-1][bins], 0.0), _TIME_LENGTHS_S[bins])
    rate = np.convolve(counts, _NEARBY, "same") / np.maximum(np.convolve(listened_s, _NEARBY, "same"), 0.2)
    share: FloatArray = np.maximum(1.0 - rate * dead_time_s, 0.3)
    return share


def _run_of_locations(grid: PopGrid, prior: PopPrior, heard: _Heard) -> slice:
    """The locations that are not hopeless, found on every few locations and columns around the end of listening."""
    nearest = int((heard.log_until - _LOG_LOWEST) / STEP)
    start = max(min(nearest - _FARTHEST_BEFORE, _LOCATIONS - 2 * _COARSE), 0)
    stop = max(min(nearest + _FARTHEST_AFTER, _LOCATIONS), 2 * _COARSE)
    coarse, _ = _log_likelihood(grid, prior, grid.few, heard, slice(start, stop, _COARSE))
    best = (coarse + grid.few.log_prior).max(axis=1)
    hopeful = (best > best.max() - _UNLIKELY).nonzero()[0]
    first, last = start + _COARSE * (int(hopeful[0]) - 1), start + _COARSE * (int(hopeful[-1]) + 1)
    return slice(max(0, first), min(_LOCATIONS, last + 1))


def _log_likelihood(
    grid: PopGrid, prior: PopPrior, columns: Columns, heard: _Heard, rows: slice
) -> tuple[FloatArray, FloatArray]:
    """Log-likelihood and mixed distribution at the end of listening, for some locations and columns."""
    windows, log_location = heard.windows[rows], grid.log_location[rows]
    density = windows @ columns.log_mixed
    outside = heard.pops - heard.within[rows]
    if outside.max() > _TINY:
        density += outside[:, None] * columns.log_clutter
    density -= (heard.pops * log_location)[:, None]
    cdf = columns.cdf_mixed.at(heard.log_until, rows)
    # The prior speaks of pops before any merged, the likelihood of those heard: `scale` times fewer.
    scale = heard.corrected / heard.pops if heard.pops else 1.0
    return log_marginal(density, heard.pops, cdf, prior.shape, prior.rate * scale), cdf
