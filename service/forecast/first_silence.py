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

import numpy as np

from service.evidence.pop_times import CENTRES_X, STEP, PopTimes
from service.units import BoolArray, FloatArray, IntArray

_LOG_KERNELS = np.linspace(np.log(15.0), np.log(4000.0), 20)
_LOG_GAPS = np.linspace(np.log(3.0), np.log(600.0), 20)
_FINE = 3
_PER_STEP = np.array(((1.0 / (_LOG_KERNELS[1] - _LOG_KERNELS[0]),), (1.0 / (_LOG_GAPS[1] - _LOG_GAPS[0]),)))
_LAST = np.array(((_LOG_KERNELS.size - 1 - 1e-9,), (_LOG_GAPS.size - 1 - 1e-9,)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SilenceTable:
    """ln(stop / location) at which half of all listeners have heard the silence, over forms, kernels and gaps.

    cells: (4, K * kernels * gaps) of each cell the value at its lowest corner, the steps along gaps and along kernels,
        and the twist: what a bilinear interpolation needs, so that one look-up does for the four corners.
    """

    cells: FloatArray


def silence_table(forms: PopTimes) -> SilenceTable:
    """Build the table for all forms (about a tenth of a second, once in a process)."""
    x = CENTRES_X[0] + np.arange(_FINE * (CENTRES_X.size - 1) + 1) * STEP / _FINE
    u = np.exp(x)
    density = np.array([np.interp(x, CENTRES_X, density) for density in forms.density]) / u
    popped = density * np.gradient(u)
    before_peak = np.arange(x.size) < density.argmax(axis=1)[:, None]
    columns = [_log_stop(u, popped, before_peak, float(np.exp(-gaps))) for gaps in _LOG_GAPS]
    return SilenceTable(cells=_cells(np.stack(columns, axis=2)))


def _log_stop(u: FloatArray, popped: FloatArray, before_peak: BoolArray, gap: float) -> FloatArray:
    """ln of the stop for shares popping (K, u) in each step of u/location, and a gap in the same unit: (K, kernels)."""
    share = popped.cumsum(axis=1)
    place = np.interp(u + gap, u, np.arange(u.size))
    index = np.minimum(place.astype(np.int64), u.size - 2)
    part = np.minimum(place - index, 1.0)
    in_gap = share[:, index] * (1.0 - part) + share[:, index + 1] * part - share
    kernels = np.exp(_LOG_KERNELS)[:, None]
    begins = kernels * np.where(before_peak, 0.0, popped)[:, None]
    heard = (begins * np.exp(-kernels * in_gap[:, None])).cumsum(axis=2)
    reached = np.argmax(heard >= np.log(2.0), axis=2)
    reached = np.where(heard[..., -1] < np.log(2.0), u.size - 1, np.maximum(reached, 1))
    before, after = (np.take_along_axis(heard, (reached - k)[..., None], axis=2)[..., 0] for k in (1, 0))
    part = np.clip((np.log(2.0) - before) / np.maximum(after - before, 1e-12), 0.0, 1.0)
    start = u[reached - 1] + part * (u[reached] - u[reached - 1])
    log_stop: FloatArray = np.log(start + gap)
    return log_stop


def _cells(log_stop: FloatArray) -> FloatArray:
    """The cells between (K, kernels, gaps) corners; those beyond the last corners are never asked for."""
    along_gaps = np.diff(log_stop, axis=2, append=log_stop[..., -1:])
    along_kernels = np.diff(log_stop, axis=1, append=log_stop[:, -1:])
    twist = np.diff(along_gaps, axis=1, append=along_gaps[:, -1:])
    return np.stack((log_stop, along_gaps, along_kernels, twist)).reshape(4, -1)


def typical_stop_s(
    table: SilenceTable, form: IntArray, kernels: FloatArray, log_location: FloatArray, gap_s: float
) -> FloatArray:
    """Typical first silence of `gap_s` on the heating clock (s), one for each of the (n,) forms, totals and locations.

    `log_location` is the logarithm of the location in s.
    """
    stop_s: FloatArray = np.exp(log_typical_stop(table, form, np.log(kernels), log_location, log(gap_s)))
    return stop_s


def log_typical_stop(
    table: SilenceTable, form: IntArray, log_kernels: FloatArray, log_location: FloatArray, log_gap: float
) -> FloatArray:
    """The same in logarithms, that of the time in s."""
    place = np.empty((2, form.size))
    np.subtract(log_kernels, _LOG_KERNELS[0], out=place[0])
    np.subtract(log_location, _LOG_GAPS[0] + log_gap, out=place[1])
    place *= _PER_STEP
    np.maximum(place, 0.0, out=place)
    np.minimum(place, _LAST, out=place)
    whole = place.astype(np.int32)
    place -= whole
    kernels, gaps = place
    corner = (form * _LOG_KERNELS.size + whole[0]) * _LOG_GAPS.size + whole[1]
    # The plane and the twist of each cell of the table, so that a cell is looked up once and not at its four corners.
    flat, along_gaps, along_kernels, twist = table.cells.take(corner, axis=1)
    log_stop: FloatArray = flat + along_gaps * gaps + (along_kernels + twist * gaps) * kernels + log_location
    return log_stop
