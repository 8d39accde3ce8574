"""When an attentive listener would typically hear the first silence after the peak.

Model. Pops come at intensity lambda(u) = A f(u) on the heating clock, A the number of kernels that pop and f one of the
densities of service.evidence.pop_times. After the peak the hazard of a silence of `gap` beginning at u is
lambda(u) exp(-integral of lambda from u to u + gap); the silence is heard when it is complete, at u + gap. Half of all
listeners have heard it when the cumulative hazard reaches ln 2.

Stretching time stretches the gap with it, so one table over (form, ln A, ln(location / gap)) serves every bag, oven and
gap. The answer is kept as ln(stop / location).

Range. 15 to 4,000 kernels; locations of 3 to 600 gaps; outside, the nearest edge of the table.
"""

from dataclasses import dataclass
from math import log
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.evidence.pop_times import CENTRES_X, STEP, PopTimes
from service.units import BoolArray, FloatArray, IntArray

_LOG_KERNELS = np.linspace(np.log(15.0), np.log(4000.0), 20)
_LOG_GAPS = np.linspace(np.log(3.0), np.log(600.0), 20)
_FINE = 3
_CELLS_PER_KERNELS = np.array(float(_LOG_GAPS.size))
_ZERO = np.array(0.0)


class _Axis(NamedTuple):
    """An axis of the table: its first node, nodes by unit, and its end, all as arrays without a dimension, which are quicker."""

    first: FloatArray
    per_unit: FloatArray
    last: FloatArray

    @staticmethod
    def of(nodes: FloatArray) -> "_Axis":
        return _Axis(nodes[0], np.array(1.0 / (nodes[1] - nodes[0])), np.array(nodes.size - 1 - 1e-9))

    def places(self, values: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(n,) The cell in which each value lies, counted from 0, and how far in it."""
        within = values - self.first
        within *= self.per_unit
        np.maximum(within, _ZERO, out=within)
        np.minimum(within, self.last, out=within)
        cell = np.floor(within)
        within -= cell
        return cell, within


_KERNELS, _GAPS = _Axis.of(_LOG_KERNELS), _Axis.of(_LOG_GAPS)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SilenceTable:
    """ln(stop / location) at which half of all listeners have heard the silence, over forms, kernels and gaps.

    cells: (4, K * kernels * gaps) of each cell the value at its lowest corner and the step along kernels, and by how much
        both rise along gaps: what a bilinear interpolation needs, so that one look-up does for the four corners.
    """

    cells: FloatArray


def silence_table(forms: PopTimes) -> SilenceTable:
    """Build the table for all forms (some 40 ms, once in a process)."""
    x = CENTRES_X[0] + np.arange(_FINE * (CENTRES_X.size - 1) + 1) * STEP / _FINE
    edges_u = np.exp(x)
    middle_x = (x[:-1] + x[1:]) / 2.0
    popped = np.array([np.interp(middle_x, CENTRES_X, density) for density in forms.density]) * np.diff(x)
    density_u = popped / np.diff(edges_u)
    before_peak = np.arange(middle_x.size) < density_u.argmax(axis=1)[:, None]
    columns = [_log_stop(edges_u, popped, before_peak, float(np.exp(-gaps))) for gaps in _LOG_GAPS]
    return SilenceTable(cells=_cells(np.stack(columns, axis=2)))


def _log_stop(edges_u: FloatArray, popped: FloatArray, before_peak: BoolArray, gap: float) -> FloatArray:
    """ln of the stop for shares popping (K, steps) between edges of u/location, and a gap in the same unit: (K, kernels).

    A silence is taken to begin in the middle of a step, and what was heard by the end of one counts at that end: otherwise
    every stop is told about a step too early.
    """
    share = np.concatenate((np.zeros((len(popped), 1)), popped.cumsum(axis=1)), axis=1)
    middle_u = (edges_u[:-1] + edges_u[1:]) / 2.0
    in_gap = _read_off(share, edges_u, middle_u + gap) - (share[:, :-1] + share[:, 1:]) / 2.0
    # No silence counts before the first peak, half of all the way.
    first = max(int(before_peak.sum(axis=1).min()) - 1, 0)
    edges_u, popped, before_peak, in_gap = edges_u[first:], popped[:, first:], before_peak[:, first:], in_gap[:, first:]
    kernels = np.exp(_LOG_KERNELS)[:, None]
    heard = -kernels * in_gap[:, None]
    np.exp(heard, out=heard)
    heard *= kernels * np.where(before_peak, 0.0, popped)[:, None]
    heard.cumsum(axis=2, out=heard)
    reached = np.argmax(heard >= np.log(2.0), axis=2)
    reached = np.where(heard[..., -1] < np.log(2.0), popped.shape[1] - 1, np.maximum(reached, 1))
    before, after = (np.take_along_axis(heard, (reached - k)[..., None], axis=2)[..., 0] for k in (1, 0))
    part = np.clip((np.log(2.0) - before) / np.maximum(after - before, 1e-12), 0.0, 1.0)
    start = edges_u[reached] + part * (edges_u[reached + 1] - edges_u[reached])
    log_stop: FloatArray = np.log(start + gap)
    return log_stop


def _read_off(values: FloatArray, at: FloatArray, wanted: FloatArray) -> FloatArray:
    """Rows of values (K, n) at points of `at`, read off at others; the last value beyond the end."""
    place = np.interp(wanted, at, np.arange(at.size))
    index = np.minimum(place.astype(np.int64), at.size - 2)
    part = place - index
    read: FloatArray = values[:, index] * (1.0 - part) + values[:, index + 1] * part
    return read


def _cells(log_stop: FloatArray) -> FloatArray:
    """The cells between (K, kernels, gaps) corners; those beyond the last corners are never asked for."""
    along_gaps = np.diff(log_stop, axis=2, append=log_stop[..., -1:])
    along_kernels = np.diff(log_stop, axis=1, append=log_stop[:, -1:])
    twist = np.diff(along_gaps, axis=1, append=along_gaps[:, -1:])
    return np.stack((log_stop, along_kernels, along_gaps, twist)).reshape(4, -1)


def typical_stop_s(
    table: SilenceTable, form: IntArray, kernels: FloatArray, log_location: FloatArray, gap_s: float
) -> FloatArray:
    """Typical first silence of `gap_s` on the heating clock (s), one for each of the (n,) forms, totals and locations.

    `log_location` is the logarithm of the location in s.
    """
    log_stop = log_typical_stop(table, first_cells(form), np.log(kernels), log_location, log(gap_s))
    stop_s: FloatArray = np.exp(log_stop)
    return stop_s


def first_cells(form: NDArray[np.integer]) -> FloatArray:
    """Where in the table the cells of each form begin, as whole floats."""
    return form.astype(np.float64) * float(_LOG_KERNELS.size * _LOG_GAPS.size)


def log_typical_stop(
    table: SilenceTable, first_cell: FloatArray, log_kernels: FloatArray, log_location: FloatArray, log_gap: float
) -> FloatArray:
    """The same in logarithms, that of the time in s, and with the first cell of each form."""
    cell, along_kernels = _KERNELS.places(log_kernels)
    cell *= _CELLS_PER_KERNELS
    gap_cell, along_gaps = _GAPS.places(log_location - log_gap)
    cell += gap_cell
    cell += first_cell
    found = table.cells.take(cell.astype(np.intp), axis=1, mode="clip")
    # The value and the step along kernels of each cell, at its place along gaps.
    log_stop: FloatArray = found[2]
    log_stop *= along_gaps
    log_stop += found[0]
    step: FloatArray = found[3]
    step *= along_gaps
    step += found[1]
    step *= along_kernels
    log_stop += step
    log_stop += log_location
    return log_stop
