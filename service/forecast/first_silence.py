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

import numpy as np

from service.evidence.pop_times import CENTRES_X, STEP, PopTimes
from service.units import FloatArray, IntArray

_LOG_KERNELS = np.linspace(np.log(15.0), np.log(4000.0), 20)
_LOG_GAPS = np.linspace(np.log(3.0), np.log(600.0), 20)
_FINE = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SilenceTable:
    """log_stop: (K, kernels, gaps) ln(stop / location) at which half of all listeners have heard the silence."""

    log_stop: FloatArray


def silence_table(forms: PopTimes) -> SilenceTable:
    """Build the table for all forms (about half a second, once in a process)."""
    x = CENTRES_X[0] + np.arange(_FINE * (CENTRES_X.size - 1) + 1) * STEP / _FINE
    densities = np.array([np.interp(x, CENTRES_X, density) for density in forms.density]) * np.exp(-x)
    kernels = np.exp(_LOG_KERNELS)[None, :, None]
    columns = [_log_stop(x, densities[:, None, :] * kernels, float(np.exp(-gaps))) for gaps in _LOG_GAPS]
    return SilenceTable(log_stop=np.stack(columns, axis=2))


def _log_stop(x: FloatArray, intensity: FloatArray, gap: float) -> FloatArray:
    """ln of the stop for intensities (K, A, x) per unit of u/location, and a gap in the same unit: (K, A)."""
    u = np.exp(x)
    du = np.gradient(u)
    expected = np.cumsum(intensity * du, axis=2)
    place = np.interp(u + gap, u, np.arange(u.size))
    index = np.minimum(place.astype(np.int64), u.size - 2)
    share = np.minimum(place - index, 1.0)
    ahead = expected[..., index] * (1.0 - share) + expected[..., index + 1] * share
    hazard = intensity * np.exp(expected - ahead) * du
    peak = np.argmax(intensity, axis=2)[..., None]
    heard = np.cumsum(np.where(np.arange(u.size) < peak, 0.0, hazard), axis=2)
    reached = np.argmax(heard >= np.log(2.0), axis=2)
    reached = np.where(heard[..., -1] < np.log(2.0), u.size - 1, np.maximum(reached, 1))
    before, after = (np.take_along_axis(heard, (reached - k)[..., None], axis=2)[..., 0] for k in (1, 0))
    part = np.clip((np.log(2.0) - before) / np.maximum(after - before, 1e-12), 0.0, 1.0)
    start = u[reached - 1] + part * (u[reached] - u[reached - 1])
    log_stop: FloatArray = np.log(start + gap)
    return log_stop


def typical_stop_s(
    table: SilenceTable, form: IntArray, kernels: FloatArray, log_location: FloatArray, gap_s: float
) -> FloatArray:
    """Typical first silence of `gap_s` on the heating clock (s), one for each of the (n,) forms, totals and locations.

    `log_location` is the logarithm of the location in s.
    """
    row, row_share = _place(np.log(kernels), _LOG_KERNELS)
    column, column_share = _place(log_location - np.log(gap_s), _LOG_GAPS)
    stops = table.log_stop.ravel()
    corner = (form * _LOG_KERNELS.size + row) * _LOG_GAPS.size + column
    low = stops[corner] * (1.0 - column_share) + stops[corner + 1] * column_share
    corner += _LOG_GAPS.size
    high = stops[corner] * (1.0 - column_share) + stops[corner + 1] * column_share
    stop_s: FloatArray = np.exp(log_location + low * (1.0 - row_share) + high * row_share)
    return stop_s


def _place(value: FloatArray, axis: FloatArray) -> tuple[IntArray, FloatArray]:
    place = np.minimum(np.maximum((value - axis[0]) / (axis[1] - axis[0]), 0.0), axis.size - 1 - 1e-9)
    index = place.astype(np.int32)
    return index, place - index
