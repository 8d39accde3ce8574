"""Pops whose times are told in whole steps, as by a hub that writes seconds: of each step only whether it held any is known.

Model. Readings are a set, so the pops of one step are one reading. With A pops to be heard in all, of the densities f of
x = ln(u / location) (service.evidence.popping, clutter included), a step of length `step_s` holds a Poisson number of mean
a f(x), a = A step_s / location, and so is told with probability 1 - exp(-a f(x)):

    ln L(A) = sum of k_i ln(1 - exp(-a f_i)) - a sum of e_i f_i,

with k_i steps of bin i of ln u that were told and e_i that were not. Since a f depends on x and a alone, one table over both
serves all locations, and the sums are matrix products. A is integrated out against its Gamma prior by a sum over nodes of
ln a. Where nearly all steps are told their number says little of the rate, and that is what this likelihood says of it.
Steps of long ago count for a share, as pops do there.

Of a pop that is told at t the step is t to t + `step_s`: clocks cut off more often than they round. The silence after it is
taken to begin at the end of that step, so that a silence that is told is one that was heard.

Range. Steps of LEAST_STEP_MS to MOST_STEP_MS. Shorter ones are taken for times, from longer ones no run of pops can be told.

Reference. The likelihood is that of grouped binary data with a complementary log-log link; P. McCullagh and J. A. Nelder (1989),
Generalized Linear Models, section 4.3, from memory.
"""

from functools import lru_cache
from math import gcd
from typing import NamedTuple

import numpy as np

from service.evidence.pop_grid import LOCATIONS, LOG_FIRST, LOG_LOWEST, TIME_BINS, Columns, PopGrid
from service.evidence.pop_times import BINS, CENTRES_X, STEP
from service.evidence.popping import Heard, PopLikelihood, PopPrior
from service.readings.heating import HeatingClock
from service.units import FloatArray, IntArray

LEAST_STEP_MS, MOST_STEP_MS = 200, 1000
_LEAST_TOLD = 8
# Pops a step at the densest, about: the nodes of ln a, and the step between them.
_NODES: FloatArray = np.exp(np.linspace(np.log(0.15), np.log(9.0), 17))
_COARSE = 4
_FARTHEST_BEFORE, _FARTHEST_AFTER = round(0.9 / STEP), round(1.2 / STEP)
_UNLIKELY = 15.0
_TINY = 1e-12


class Steps(NamedTuple):
    """The steps in which times are told: their length, and where one of them begins on the cook clock (ms)."""

    step_ms: int
    offset_ms: int

    @property
    def step_s(self) -> float:
        """Length of a step (s)."""
        return self.step_ms / 1000.0


class _Told(NamedTuple):
    """Weighted numbers of steps that were told, and of those that were not, in the bins of ln u from `first` on."""

    told: FloatArray
    empty: FloatArray
    first: int
    step_s: float


def steps_of(pops_ms: IntArray) -> Steps | None:
    """The steps in which these times (sorted, ms) are told; None where they are told to less, or are too few to say."""
    if pops_ms.size < _LEAST_TOLD:
        return None
    # The first three mostly show that there are none.
    first_ms, second_ms, third_ms = pops_ms.item(0), pops_ms.item(1), pops_ms.item(2)
    if gcd(second_ms - first_ms, third_ms - first_ms) < LEAST_STEP_MS:
        return None
    step_ms = gcd(*(pops_ms[1:] - pops_ms[:-1]).tolist())
    if not LEAST_STEP_MS <= step_ms <= MOST_STEP_MS:
        return None
    return Steps(step_ms, int(pops_ms[0]) % step_ms)


def rate_in_steps(told: float, steps: float, step_s: float) -> float:
    """Pops a second, where so many of these steps were told; where all were, as if half of one had not been."""
    return -float(np.log1p(-min(told, steps - 0.5) / steps)) / step_s


def stamped_likelihood(
    grid: PopGrid, prior: PopPrior, heard: Heard, steps: Steps, seen: tuple[IntArray, HeatingClock, float]
) -> PopLikelihood:
    """The likelihood over the grid of pops told in steps.

    `heard` are the same pops taken for times, whose weights hold here too; `seen` the times that were told (ms), the clock,
    and until when it was listened (s on the cook clock).
    """
    told = _told_steps(*seen, steps, heard)
    rows, nodes = _hopeful(grid, prior, heard, told)
    by_node, log_total = _by_node(grid.columns, _tables(grid)[0], prior, told, (rows, nodes))
    most = by_node.max(axis=1)
    by_node -= most[:, None, :]
    weights = np.exp(by_node, out=by_node)
    sums = weights.sum(axis=1)
    total = np.exp(np.einsum("mn,mnc->mc", log_total, weights) / sums)
    log_likelihood = most + np.log(sums)
    cdf = grid.columns.cdf_mixed.at(heard.log_until, rows)
    best = int(log_likelihood.argmax())
    corrected = max(total.item(best) * cdf.item(best), float(heard.pops))
    heard = heard._replace(pops_corrected=corrected)
    # What stands for the exposure is what makes the number of pops that mean of the total.
    exposure = (heard.weighted * corrected / heard.pops + prior.shape) / total - prior.rate
    return PopLikelihood(rows, grid.columns, log_likelihood, cdf, exposure, heard)


def _told_steps(pops_ms: IntArray, clock: HeatingClock, until_s: float, steps: Steps, heard: Heard) -> _Told:
    begins_ms = steps.offset_ms - steps.step_ms
    whole = max((round(1000.0 * until_s) - begins_ms) // steps.step_ms, 1)
    edges_u = clock.hottest_u_s((begins_ms + np.arange(whole + 1) * steps.step_ms) / 1000.0)
    heated = np.diff(edges_u) / steps.step_s
    middle_u = np.maximum(edges_u[:-1] + edges_u[1:], 2.0) / 2.0
    bins = np.clip(((np.log(middle_u) - LOG_FIRST) / STEP).astype(np.intp), 0, TIME_BINS - 1)
    numbers = (pops_ms - begins_ms) // steps.step_ms
    is_told = np.zeros(whole, dtype=np.bool_)
    is_told[numbers[numbers < whole]] = True
    first, last = int(bins[0]), int(bins[-1])
    # The bin in which the earlier ones end counts in part, so that nothing jumps as time goes by.
    lately = np.clip(np.arange(first + 1, last + 2) - (heard.log_earlier - LOG_FIRST) / STEP, 0.0, 1.0)
    weight = heard.earlier_share + (1.0 - heard.earlier_share) * lately
    told = np.bincount(bins[is_told] - first, minlength=weight.size) * weight
    empty = np.bincount(bins[~is_told] - first, weights=heated[~is_told], minlength=weight.size) * weight
    return _Told(told, empty, first, steps.step_s)


def _hopeful(grid: PopGrid, prior: PopPrior, heard: Heard, told: _Told) -> tuple[slice, slice]:
    """Runs of locations and of nodes that hold all that a rough look does not find hopeless."""
    nearest = int((heard.log_until - LOG_LOWEST) / STEP)
    start = max(min(nearest - _FARTHEST_BEFORE, LOCATIONS - 2 * _COARSE), 0)
    stop = max(min(nearest + _FARTHEST_AFTER, LOCATIONS), 2 * _COARSE)
    cells = slice(start, stop, _COARSE), slice(0, _NODES.size)
    by_node, _ = _by_node(grid.few, _tables(grid)[1], prior, told, cells)
    log_weight = (by_node + grid.few.log_prior).max(axis=2)
    hopeful_rows, hopeful_nodes = (log_weight > log_weight.max() - _UNLIKELY).nonzero()
    begins, ends = start + _COARSE * (hopeful_rows.min() - 1), start + _COARSE * (hopeful_rows.max() + 1)
    rows = slice(max(int(begins), 0), min(int(ends) + 1, LOCATIONS), 1)
    return rows, slice(int(hopeful_nodes.min()), int(hopeful_nodes.max()) + 1)


class _Tables(NamedTuple):
    """For a f(x) at every node and the x of every bin and location: f (x, c), and ln(1 - exp(-a f)) (x, nodes, c)."""

    density: FloatArray
    log_told: FloatArray


@lru_cache(maxsize=4)
def _tables(grid: PopGrid) -> tuple[_Tables, _Tables]:
    """For all columns and for few of them; built when the first such hub is met."""
    return _tables_of(grid.columns), _tables_of(grid.few)


def _tables_of(columns: Columns) -> _Tables:
    x = CENTRES_X[0] + np.arange(1 - LOCATIONS, BINS + LOCATIONS) * STEP
    density = np.exp(columns.log_density - x[:, None])
    log_told = np.log(-np.expm1(-(density[:, None, :] * _NODES[:, None])) + _TINY)
    return _Tables(density, log_told)


def _by_node(
    columns: Columns, tables: _Tables, prior: PopPrior, told: _Told, cells: tuple[slice, slice]
) -> tuple[FloatArray, FloatArray]:
    """Over some rows and nodes the log-likelihood, prior of the total included, (m, n, c), and ln of the total, (m, n)."""
    rows, nodes = cells
    number = (rows.stop - rows.start - 1) // rows.step * rows.step + 1
    ahead = LOCATIONS - 1 + told.first - (rows.start + number - 1)
    width = told.told.size + number - 1
    some = slice(ahead, ahead + width)
    of_told, of_empty = (_windows(values, number)[:: rows.step] for values in (told.told, told.empty))
    log_told = of_told @ tables.log_told[some, nodes].reshape(width, -1)
    by_node = log_told.reshape(len(of_told), nodes.stop - nodes.start, -1)
    by_node -= _NODES[nodes, None] * (of_empty @ tables.density[some])[:, None, :]
    log_location = LOG_LOWEST + np.arange(rows.start, rows.start + number, rows.step) * STEP
    log_total = np.log(_NODES[nodes] / told.step_s) + log_location[:, None]
    by_node += (prior.shape * log_total - prior.rate * np.exp(log_total))[:, :, None]
    return by_node, log_total


def _windows(values: FloatArray, number: int) -> FloatArray:
    """(number, bins + number - 1) the values a bin later from row to row: in the last place of the first row they begin."""
    padded = np.zeros(values.size + 2 * number - 2)
    padded[number - 1 : number - 1 + values.size] = values
    shape = (number, values.size + number - 1)
    return np.ndarray(shape, buffer=padded, strides=padded.strides * 2)
