"""The lag of the humidity sensor, from how the vapour rises once the bag has opened.

Model. Steam leaves the bag as a puff at the opening and with each pop after it. The cavity's air, which the fan changes in a
flush time, and the sensor's element, with its lag, each answer as a first-order lag; so the readings are a level, a creep
and these two streams seen through both, with four free amplitudes for each cook. What is left over says how well a flush
time and a lag fit; the opening itself may lie some seconds off the dated one.

The lag is that of the element and of the duct before it. It and the flush time stand one behind the other, so the rise
alone does not tell which is which: what is usual for each decides, and the interval is wide where it cannot.

Range. Readings every 0.2 to 3 s that are not saturated for a while after the onset.
"""

import numpy as np

from service.evidence.vapour import Vapour
from service.units import FloatArray

FLUSHES_S: FloatArray = np.geomspace(2.0, 32.0, 13)
LAGS_S: FloatArray = np.geomspace(0.7, 25.0, 19)
_STEP_S = 0.5
_BEFORE_S, _AFTER_S = 20.0, 30.0
_SHIFTS_S = (-4.0, -3.0, -2.0, -1.0, 0.0, 1.0)
_PUFF_S = 1.5
_SMOOTHED = 6
_LEAST_READINGS = 8
_RIDGE = 1e-9


def rise_log_likelihood(
    t_s: FloatArray, vapour: Vapour, rise_s: float, pops_s: FloatArray, numbers: tuple[float, float]
) -> FloatArray | None:
    """Logarithm of the likelihood over FLUSHES_S and LAGS_S, (F, L), up to a constant; None with too few readings.

    `t_s` are the times of the readings, `rise_s` when the rise began at the sensor, `pops_s` when the steam of each pop
    comes to it (all s, cook clock); `numbers` are the weight of one reading and the least noise (g/m3).
    """
    trust, least_noise = numbers
    seen = (t_s >= rise_s - _BEFORE_S) & (t_s <= rise_s + _AFTER_S)
    saturated = seen & vapour.is_saturated & (t_s > rise_s - 1.0)
    if saturated.any():
        seen &= t_s < t_s[saturated][0]
    if int((seen & (t_s > rise_s)).sum()) < _LEAST_READINGS:
        return None
    at_s, density = t_s[seen], vapour.density_g_m3[seen]
    grid_s = np.arange(rise_s - _BEFORE_S + min(_SHIFTS_S), at_s[-1] + 2.0 * _STEP_S, _STEP_S)
    left = [_left_over(at_s, density, grid_s, _streams(grid_s, rise_s + shift_s, pops_s)) for shift_s in _SHIFTS_S]
    squares = np.minimum.reduce(left) / at_s.size
    log_likelihood: FloatArray = -0.5 * trust * at_s.size * np.log(squares + least_noise**2)
    return log_likelihood


def _streams(grid_s: FloatArray, opened_s: float, pops_s: FloatArray) -> FloatArray:
    """(2, T) the puff and the steam of the pops after the opening, on the grid."""
    since_s = grid_s - opened_s
    puff = np.where(since_s >= 0.0, np.exp(-np.maximum(since_s, 0.0) / _PUFF_S), 0.0)
    counts, _ = np.histogram(pops_s, np.append(grid_s, grid_s[-1] + _STEP_S))
    rate = np.convolve(counts, np.full(_SMOOTHED, 1.0 / _SMOOTHED), "same")
    return np.stack((puff, rate * (since_s >= 0.0)))


def _left_over(at_s: FloatArray, density: FloatArray, grid_s: FloatArray, streams: FloatArray) -> FloatArray:
    """(F, L) squares left over by the best amplitudes; those of a plain level where steam would have to be taken away."""
    answers = _lagged(_lagged(streams[:, None, :], FLUSHES_S)[:, :, None, :], LAGS_S)
    place = (at_s - grid_s[0]) / _STEP_S
    index = np.minimum(place.astype(np.int64), grid_s.size - 2)
    share = place - index
    answers = answers[..., index] * (1.0 - share) + answers[..., index + 1] * share
    level = np.broadcast_to(np.ones(at_s.size), answers.shape[1:])
    creep = np.broadcast_to((at_s - at_s[0]) / _BEFORE_S, answers.shape[1:])
    design = np.stack((level, creep, *answers), axis=-1)
    gram = np.einsum("flni,flnj->flij", design, design) + _RIDGE * np.eye(4)
    amplitudes = np.linalg.solve(gram, np.einsum("flni,n->fli", design, density)[..., None])[..., 0]
    left = ((np.einsum("flni,fli->fln", design, amplitudes) - density) ** 2).sum(axis=-1)
    unexplained = float(((density - density.mean()) ** 2).sum())
    squares: FloatArray = np.where((amplitudes[..., 2:] < 0.0).any(axis=-1), unexplained, left)
    return squares


def _lagged(signals: FloatArray, lags_s: FloatArray) -> FloatArray:
    """The signals (..., T) through each lag, exact for what is constant in a step."""
    pull = -np.expm1(-_STEP_S / lags_s)
    steps = signals.shape[-1]
    out = np.empty((*np.broadcast_shapes(signals.shape[:-1], lags_s.shape), steps))
    value = np.zeros(out.shape[:-1])
    for step in range(steps):
        value = value + pull * (signals[..., step] - value)
        out[..., step] = value
    return out
