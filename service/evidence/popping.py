"""How far the popping has come: likelihood of the heard pops over a grid of pop-time densities.

Model. The pops that are heard are a finite population with random pop times (service.evidence.finite_population) of one
of the forms of service.evidence.pop_times, stretched by a location on the heating clock, mixed with a small share of
clutter that is spread evenly over CLUTTER_SPAN locations. The total is integrated out, so for each grid point

    ln L = sum of n_i ln g_i - (n + shape) ln(G(U) + rate),

with n_i pops in bin i of ln u, g the mixed density, G its distribution at U, the end of what was listened to. The bins
are as wide in ln u as the grid is in ln location, so one table of ln g serves all locations and the sum is a matrix
product whose cost does not grow with the cook.

What a bag did long ago says little of how it ends: it opens, and what is left is thrown about and heated elsewhere, so that no
density of so few parameters holds from the first pop to the last. Pops and watching before U exp(-reach) therefore count for a
share of what the later ones count for, the smaller the more there are, since chance blurs many pops less than a wrong shape
does: of m pops least + (1 - least) k / (k + m). Then n is the weighted number, and G(U) gives way to
G(U) - (1 - share) G(U exp(-reach)), which is the likelihood of Poisson counts with that weight in each bin.

While a microphone was deaf nothing could be heard: such a stretch counts in neither sum, and takes its share of G.

A dead time makes pops merge where they are dense. Each bin's count is divided by the live share at the smoothed rate,
and all counts are then scaled back to the number heard, so that the correction adds shape and not certainty.

Range. Heating clock from LOWEST_S to HIGHEST_S; up to 20,000 pops.

Reference. service.evidence.finite_population, service.evidence.dead_time.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, log
from typing import NamedTuple

import numpy as np

from service.evidence.finite_population import log_marginal
from service.evidence.pop_grid import LOCATIONS, LOG_FIRST, LOG_LOWEST, TIME_BINS, Columns, PopGrid
from service.evidence.pop_times import STEP
from service.units import FloatArray

# The edges of the bins of ln u, the first and the last repeated so that a sum over neighbours never runs out.
_NEIGHBOURS = 2
_EDGES_S = np.exp(LOG_FIRST + np.arange(-_NEIGHBOURS, TIME_BINS + _NEIGHBOURS + 1).clip(0, TIME_BINS) * STEP)
_AROUND = 2 * _NEIGHBOURS + 1
_SHORTEST_S, _LEAST_LIVE = 0.2, 0.3
_COARSE = 4
# Locations further from the end of listening than the pop times reach are hopeless, but for a little clutter.
_FARTHEST_BEFORE, _FARTHEST_AFTER = round(0.9 / STEP), round(1.2 / STEP)
# Of pops that all count alike, which tell of a microphone that has failed and are believed by a tenth; and where the earlier
# ones count for less.
_UNLIKELY, _UNLIKELY_LATELY = 80.0, 15.0


class Memory(NamedTuple):
    """What was heard longer ago than `reach` in ln u counts for a share: `least_share` of many pops, all of few.

    Half of the way between lies at `half_pops`.
    """

    least_share: float
    half_pops: float
    reach: float

    def earlier_share(self, pops: float) -> float:
        """What each of so many earlier pops counts for."""
        return self.least_share + (1.0 - self.least_share) * self.half_pops / (self.half_pops + pops)


WHOLE = Memory(least_share=1.0, half_pops=1.0, reach=0.0)
"""All counts alike, however long ago."""


class Heard(NamedTuple):
    """Pops as counts per bin of ln u, scaled to the number heard; with the corrected number and the end of listening.

    windows: (LOCATIONS, bins + LOCATIONS - 1) the weighted counts of the bins from `first` to the last with a pop, a bin later
        from row to row: they begin in the last place of the first row, and in the first of the last.
    weighted: the sum of the counts.
    earlier_share, log_earlier: what a pop counts for that was heard before this moment.
    log_deaf: the stretches in which nothing could be heard.
    """

    windows: FloatArray
    first: int
    pops: int
    pops_corrected: float
    weighted: float
    log_until: float
    earlier_share: float
    log_earlier: float
    log_deaf: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PopPrior:
    """What is known beforehand: (M, C) log weights of the grid, and a Gamma prior of the number that will be heard."""

    log_weight: FloatArray
    shape: float
    rate: float


class PopLikelihood(NamedTuple):
    """The log-likelihood, up to a constant, over `rows` of the locations, m of them, and some columns, c of them.

    log_likelihood, cdf, exposure: (m, c); `cdf` is the share of all that will be heard that was heard by the end of listening,
        `exposure` the same with the weights of the counts.
    """

    rows: slice
    columns: Columns
    log_likelihood: FloatArray
    cdf: FloatArray
    exposure: FloatArray
    heard: Heard

    @property
    def first(self) -> int:
        """Number of the first location on the grid."""
        return int(self.rows.start)

    @property
    def pops_corrected(self) -> float:
        """Number heard, with those that merged in the dead time."""
        return self.heard.pops_corrected

    @property
    def weighted_corrected(self) -> float:
        """The same number, weighted as the counts are."""
        return self.heard.weighted * self.heard.pops_corrected / self.heard.pops


def heard_pops(
    pops_u_s: FloatArray,
    until_u_s: float,
    dead_time_s: float,
    memory: Memory = WHOLE,
    deaf_u_s: Sequence[tuple[float, float]] = (),
) -> Heard:
    """Counts of one or more pops at these times on the heating clock (s, ascending), listened to until `until_u_s`.

    Nothing could be heard in the stretches `deaf_u_s`, of which those count that have ended.
    """
    first, last = _bin(float(pops_u_s[0])), _bin(float(pops_u_s[-1]))
    edges_s = _EDGES_S[first : last + 2 * _NEIGHBOURS + 2]
    before = pops_u_s.searchsorted(edges_s)
    before[: _NEIGHBOURS + 1] = 0
    before[-_NEIGHBOURS - 1 :] = pops_u_s.size
    listened_s = np.minimum(edges_s[_AROUND:], until_u_s) - edges_s[:-_AROUND]
    rate = (before[_AROUND:] - before[:-_AROUND]) / np.maximum(listened_s, _SHORTEST_S)
    live_share = np.maximum(1.0 - rate * dead_time_s, _LEAST_LIVE)
    counts = (before[_NEIGHBOURS + 1 : -_NEIGHBOURS] - before[_NEIGHBOURS : -_NEIGHBOURS - 1]) / live_share
    corrected = weighted = float(np.add.reduce(counts))
    log_until, earlier_share = log(max(until_u_s, 1.0)), 1.0
    log_earlier = log_until - memory.reach
    if memory.least_share < 1.0:
        # The bin in which the earlier ones end counts in part, so that nothing jumps as time goes by.
        place = min(max((log_earlier - LOG_FIRST) / STEP - first, 0.0), counts.size - 1e-9)
        whole = int(place)
        earlier = (
            (float(np.add.reduce(counts[:whole])) + (place - whole) * counts.item(whole)) * pops_u_s.size / corrected
        )
        earlier_share = memory.earlier_share(earlier)
        counts[:whole] *= earlier_share
        counts[whole] *= 1.0 - (1.0 - earlier_share) * (place - whole)
        weighted = float(np.add.reduce(counts))
    padded = np.zeros(counts.size + 2 * LOCATIONS - 2)
    np.multiply(counts, pops_u_s.size / corrected, out=padded[LOCATIONS - 1 : 1 - LOCATIONS])
    shape = (LOCATIONS, counts.size + LOCATIONS - 1)
    windows: FloatArray = np.ndarray(shape, buffer=padded, strides=padded.strides * 2)
    weighted *= pops_u_s.size / corrected
    log_deaf = tuple(
        [(log(max(begun_s, 1.0)), log(ended_s)) for begun_s, ended_s in deaf_u_s if 1.0 < ended_s <= until_u_s]
    )
    return Heard(windows, first, pops_u_s.size, corrected, weighted, log_until, earlier_share, log_earlier, log_deaf)


def _bin(u_s: float) -> int:
    return min(max(int((log(max(u_s, 1.0)) - LOG_FIRST) / STEP), 0), TIME_BINS - 1)


def hopeful_run(grid: PopGrid, prior: PopPrior, heard: Heard) -> slice:
    """A run of locations that holds all that a rough look, on every few locations and columns, does not find hopeless."""
    nearest = int((heard.log_until - LOG_LOWEST) / STEP)
    start = max(min(nearest - _FARTHEST_BEFORE, LOCATIONS - 2 * _COARSE), 0)
    stop = max(min(nearest + _FARTHEST_AFTER, LOCATIONS), 2 * _COARSE)
    rough = _likelihood(grid.few, prior, heard, slice(start, stop, _COARSE))
    log_weight = (rough.log_likelihood + grid.few.log_prior).ravel()
    unlikely = _UNLIKELY_LATELY if heard.earlier_share < 1.0 else _UNLIKELY
    hopeful = log_weight > log_weight.item(log_weight.argmax()) - unlikely
    first = int(hopeful.argmax()) // grid.few.form.size
    last = (hopeful.size - 1 - int(hopeful[::-1].argmax())) // grid.few.form.size
    begins, ends = start + _COARSE * (first - 1), start + _COARSE * (last + 1)
    return slice(max(begins, 0), min(ends + 1, LOCATIONS), 1)


def pop_likelihood(grid: PopGrid, prior: PopPrior, heard: Heard, run: slice) -> PopLikelihood:
    """On all columns, over a run of locations."""
    return _likelihood(grid.columns, prior, heard, run)


def _likelihood(columns: Columns, prior: PopPrior, heard: Heard, rows: slice) -> PopLikelihood:
    # A row of the product lies as many bins further in the counts as its location lies bins later.
    reach = (rows.stop - rows.start - 1) // rows.step * rows.step
    windows = heard.windows[LOCATIONS - 1 - reach :: rows.step, : heard.windows.shape[1] - LOCATIONS + 1 + reach]
    log_density = windows @ columns.log_mixed(heard.first - rows.start - reach, windows.shape[1])
    cdf = columns.cdf_mixed.at(heard.log_until, rows)
    # The prior speaks of pops before any merged, the likelihood of those heard: that many times fewer.
    rate = prior.rate * heard.pops_corrected / heard.pops
    exposure = _exposure(columns, heard, rows, cdf)
    log_likelihood = log_marginal(log_density, heard.weighted, exposure, prior.shape, rate)
    return PopLikelihood(rows, columns, log_likelihood, cdf, exposure, heard)


def _exposure(columns: Columns, heard: Heard, rows: slice, cdf: FloatArray) -> FloatArray:
    if heard.earlier_share < 1.0:
        cdf = _weighted(columns, heard, rows, cdf)
    for log_begun, log_ended in heard.log_deaf:
        begun, ended = (
            _weighted(columns, heard, rows, columns.cdf_mixed.at(log_u, rows), log_u)
            for log_u in (log_begun, log_ended)
        )
        cdf = cdf - (ended - begun)
    return cdf


def _weighted(columns: Columns, heard: Heard, rows: slice, cdf: FloatArray, log_u: float = inf) -> FloatArray:
    """The distribution at `log_u` with the weights of the counts."""
    earlier = columns.cdf_mixed.at(min(log_u, heard.log_earlier), rows)
    earlier *= heard.earlier_share - 1.0
    earlier += cdf
    return earlier
