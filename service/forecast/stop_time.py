"""A distribution of the time at which to stop.

Weighted hypotheses are summed up by the mean and the standard deviation of the logarithm of their stop times, and read as
a log-normal: both move smoothly as the weights do, where quantiles of a few hundred hypotheses would jump from one to the
next.
"""

from math import exp, sqrt
from typing import NamedTuple

import numpy as np

from service.units import FloatArray


class StopTime(NamedTuple):
    """A log-normal stop time on the heating clock: mean and standard deviation of the logarithm of seconds."""

    log_mean: float
    log_sd: float

    def at_sd(self, deviation_sd: float) -> float:
        """The stop (s on the heating clock) so many standard deviations after the middle one."""
        return exp(self.log_mean + deviation_sd * self.log_sd)


def stop_time(stop_u_s: FloatArray, weight: FloatArray) -> StopTime:
    """From hypotheses (n,) with weights of any sum. Raises ValueError when there is no weight at all."""
    return stop_times(np.log(stop_u_s), weight[None])[0]


def stop_times(log_stop: FloatArray, weights: FloatArray) -> list[StopTime]:
    """The same from logarithms of the stop times in seconds (n,), one for each row of weights (k, n)."""
    return [stop for stop, _ in stops_and_means(log_stop, weights, ())]


def stops_and_means(
    log_stop: FloatArray, weights: FloatArray, values: tuple[FloatArray, ...]
) -> list[tuple[StopTime, list[float]]]:
    """The same, each with the means of further values (n,) of the hypotheses."""
    # Around the first hypothesis, so that two large squares are not subtracted.
    origin = float(log_stop[0])
    rows = np.empty((3 + len(values), log_stop.size))
    rows[0] = 1.0
    np.subtract(log_stop, origin, out=rows[1])
    np.multiply(rows[1], rows[1], out=rows[2])
    for row, of_row in enumerate(values, start=3):
        rows[row] = of_row
    return [_from_sums(origin, *sums) for sums in weights.dot(rows.T).tolist()]


def _from_sums(
    origin: float, total: float, first: float, second: float, *others: float
) -> tuple[StopTime, list[float]]:
    if not total > 0.0:
        raise ValueError("a distribution of the stop time needs at least one hypothesis with a weight")
    mean = first / total
    log_sd = sqrt(max(second / total - mean * mean, 0.0))
    return StopTime(log_mean=origin + mean, log_sd=log_sd), [other / total for other in others]
