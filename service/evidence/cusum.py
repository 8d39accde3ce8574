"""A sequential test for a rise, with a false-alarm length that is known beforehand: the tabular CUSUM.

Model. Standardised deviations z_i are independent and normal with standard deviation 1, of mean 0 until a change
and of a mean above 2k from then on. The upper cumulative sum

    C_0 = 0,   C_i = max(0, C_{i-1} + z_i - k)

wanders near zero before the change and climbs after it; it alarms when it first exceeds h, and the change is placed
after the last sample at which it was zero. The average run length L(s) from a sum of s to the alarm solves

    L(s) = 1 + L(0) Phi(k - mu - s) + integral over 0..h of L(y) phi(y + k - mu - s) dy

for mean mu, which Gauss-Legendre nodes turn into linear equations (Nystroem). Two tests run side by side, one each
way, have 1/L = 1/L_upper + 1/L_lower.

Range. k >= 0 and h up to about 30; run lengths up to 1e8 samples. Correlated noise, or a baseline estimated from
few samples, makes false alarms more frequent than the run length says.

References. E. S. Page (1954), Biometrika 41:100-115; J. M. Lucas and R. B. Crosier (1982), Technometrics 24:199-205;
D. Brook and D. A. Evans (1972), Biometrika 59:539-549.
"""

from collections.abc import Callable, Iterable
from functools import lru_cache
from math import erfc, log, sqrt

import numpy as np

from service.units import FloatArray

NODES = 120  # the kernel is a normal density of width 1, so 4 nodes per unit of h are ample up to h = 30
HIGHEST_DECISION = 30.0
LONGEST_RUN = 1e8
NEAR_ENOUGH = 1e-11  # of a run length, which is known no better
MOST_STEPS = 60


def upper_cusum(deviations: FloatArray, reference_k: float) -> FloatArray:
    """Path of the upper cumulative sum of standardised deviations (any length), of the same length.

    reference_k is the allowance per sample, in standard deviations. Zeros of the path are exact.
    """
    # A random walk reflected at zero is the walk less its lowest value so far.
    walk = np.zeros(deviations.size + 1)
    np.add.accumulate(deviations - reference_k, out=walk[1:])
    walk -= np.minimum.accumulate(walk)
    return walk[1:]


def first_alarm(path: FloatArray, decision_h: float) -> int | None:
    """Index of the first sample at which the path exceeds decision_h (standard deviations), None if it never does."""
    above = path > decision_h
    first = int(above.argmax()) if above.size else 0
    return first if above.size and above[first] else None


def alarm_index(deviations: Iterable[float], reference_k: float, decision_h: float) -> int | None:
    """Index of the first deviation at which the upper cumulative sum exceeds decision_h, None if it never does.

    What upper_cusum and first_alarm find, but sooner where the alarm comes early.
    """
    total = 0.0
    for index, deviation in enumerate(deviations):
        total = max(total + deviation - reference_k, 0.0)
        if total > decision_h:
            return index
    return None


def change_index(path: FloatArray, alarm: int) -> int:
    """Index of the last sample before the change: where the path was last zero before the alarm, -1 if it never was."""
    zeros = np.flatnonzero(path[:alarm] == 0.0)
    return int(zeros[-1]) if zeros.size else -1


@lru_cache(maxsize=1)
def _nodes_and_weights() -> tuple[FloatArray, FloatArray]:
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    return (nodes + 1.0) / 2.0, weights / 2.0


def _upper_run_length(shift: float, reference_k: float, decision_h: float) -> float:
    nodes, weights = _nodes_and_weights()
    # The sum can also sit exactly at zero, which is therefore a state of its own beside the nodes.
    start = np.concatenate(([0.0], nodes * decision_h))
    drop = reference_k - shift - start
    to_zero = np.array([0.5 * erfc(-value / sqrt(2.0)) for value in drop])
    density = np.exp(-0.5 * (start[None, 1:] + drop[:, None]) ** 2) / sqrt(2.0 * np.pi)
    transition = np.column_stack((to_zero, density * (weights * decision_h)))
    lengths = np.linalg.solve(np.eye(start.size) - transition, np.ones(start.size))
    return float(lengths[0])


@lru_cache(maxsize=256)
def average_run_length(shift: float, reference_k: float, decision_h: float, *, two_sided: bool = False) -> float:
    """Mean number of samples to the alarm, from a sum of zero, when the deviations have mean `shift`.

    All in standard deviations. With two_sided, for two tests run side by side, one for a rise and one for a fall.
    Raises ValueError for k below zero and for h outside 0 to 30.
    """
    if reference_k < 0.0 or not 0.0 <= decision_h <= HIGHEST_DECISION:
        raise ValueError(f"a run length needs k >= 0 and h from 0 to 30; got k = {reference_k}, h = {decision_h}")
    upper = _upper_run_length(shift, reference_k, decision_h)
    if not two_sided:
        return upper
    lower = _upper_run_length(-shift, reference_k, decision_h)
    return 1.0 / (1.0 / upper + 1.0 / lower)


@lru_cache(maxsize=64)
def decision_for_run_length(length: float, reference_k: float) -> float:
    """The decision value h at which an upper CUSUM alarms falsely once in `length` samples on average.

    length is in samples, h and reference_k in standard deviations. Raises ValueError for a length below that of
    h = 0, where every sample above k alarms, above 1e8 samples, or beyond what h = 30 gives (a small k alone).
    """
    shortest = average_run_length(0.0, reference_k, 0.0)
    if not shortest <= length <= LONGEST_RUN:
        raise ValueError(f"a run length at k = {reference_k} must be {shortest:.3g} to 1e8 samples; got {length}")
    low, high = 0.0, 1.0
    while average_run_length(0.0, reference_k, high) < length:
        if high == HIGHEST_DECISION:
            raise ValueError(f"a run length of {length} samples at k = {reference_k} needs h above 30: take a larger k")
        low, high = high, min(1.5 * high, HIGHEST_DECISION)
    return _root(lambda decision_h: log(average_run_length(0.0, reference_k, decision_h) / length), low, high)


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function crosses zero, by the Illinois variant of false position: it is nearly a line here."""
    at_low, at_high = function(low), function(high)
    side = 0
    for _ in range(MOST_STEPS):
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        at_middle = function(middle)
        if abs(at_middle) < NEAR_ENOUGH or not low < middle < high:
            break
        if at_middle < 0.0:
            # The end that has stayed twice is given less weight, so that it moves too.
            low, at_low, at_high = middle, at_middle, at_high / 2.0 if side < 0 else at_high
            side = -1
        else:
            high, at_high, at_low = middle, at_middle, at_low / 2.0 if side > 0 else at_low
            side = 1
    return middle
