"""A distribution of the time at which to stop, as weighted hypotheses.

Quantiles interpolate the cumulative weight at the middle of each hypothesis' own weight, so that they move smoothly as
the weights do.
"""

from dataclasses import dataclass

import numpy as np

from service.units import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StopTime:
    """Hypotheses of the stop on the heating clock.

    Attributes:
        stop_u_s: (n,) stop times in ascending order (s).
        weight: (n,) their weights, which sum to 1.
    """

    stop_u_s: FloatArray
    weight: FloatArray

    def quantiles(self, probabilities: tuple[float, ...]) -> list[float]:
        """Stop times (s on the heating clock) at these probabilities."""
        cumulative = np.cumsum(self.weight) - 0.5 * self.weight
        quantiles: list[float] = np.interp(probabilities, cumulative, self.stop_u_s).tolist()
        return quantiles

    def log_mean_and_sd(self) -> tuple[float, float]:
        """Mean and standard deviation of the logarithm of the stop time."""
        log_stop = np.log(self.stop_u_s)
        mean = float(self.weight @ log_stop)
        log_stop -= mean
        return mean, float(np.sqrt(self.weight @ (log_stop * log_stop)))


def stop_time(ascending_u_s: FloatArray, weight: FloatArray) -> StopTime:
    """From hypotheses in ascending order with weights of any sum. Raises ValueError when there is no weight at all."""
    total = float(weight.sum())
    if not total > 0.0:
        raise ValueError("a distribution of the stop time needs at least one hypothesis with a weight")
    return StopTime(stop_u_s=ascending_u_s, weight=weight / total)
