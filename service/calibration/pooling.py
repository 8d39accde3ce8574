"""What a few cooks say, drawn towards what was known before them: partial pooling.

Model. On the logarithmic scale each cook shows its oven's value with normal scatter, and the oven's value is itself normal
about the programme's default. The posterior is normal: precisions add up. The scatter within an oven is estimated too, as if
the usual one had been seen in a few cooks already, so that three cooks that happen to agree do not claim to be sure.

What is not normal (a count, a delay that cannot be negative) is pooled on a grid of values: prior times likelihood.

Range. One cook or more; with none the default stands, as wide as it was.

Reference. A. Gelman et al. (2013), Bayesian Data Analysis, sections 3.3 and 5.4.
"""

from dataclasses import dataclass
from math import exp, sqrt

import numpy as np

from service.audit.tails import normal_quantile, t_quantile
from service.readings.setup import Fitted
from service.units import FloatArray

_CENTRES = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """What is known beforehand, all of logarithms: default, deviation of ovens from it, usual scatter of one oven's cooks.

    `weight` is the number of cooks for which that scatter counts.
    """

    default: float
    between_sd: float
    within_sd: float
    weight: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pooled:
    """The oven's value (logarithm) with its standard deviation, and the scatter of its cooks.

    `df` are the degrees of freedom behind that scatter, `cooks` how many there were.
    """

    mean: float
    sd: float
    within_sd: float
    df: float
    cooks: int

    def value(self, level: float) -> Fitted:
        """The value itself, not its logarithm."""
        reach = t_quantile(0.5 + level / 2.0, self.df) * self.sd
        return Fitted(value=exp(self.mean), low=exp(self.mean - reach), high=exp(self.mean + reach), cooks=self.cooks)

    def spread_of_next(self, level: float) -> Fitted:
        """Standard deviation of the logarithm of the next cook's value: its scatter, and what is not known of the mean."""
        spread = sqrt(self.within_sd**2 + self.sd**2)
        reach = normal_quantile(0.5 + level / 2.0) / sqrt(2.0 * self.df)
        return Fitted(value=spread, low=spread * exp(-reach), high=spread * exp(reach), cooks=self.cooks)


def pool(logs: FloatArray, before: Before) -> Pooled:
    """Pool the (n,) logarithms that n cooks show."""
    seen = logs.size
    squares = float(((logs - logs.mean()) ** 2).sum()) if seen else 0.0
    df = before.weight + max(seen - 1, 0)
    within = sqrt((before.weight * before.within_sd**2 + squares) / df)
    precision = 1.0 / before.between_sd**2 + seen / within**2
    mean = (before.default / before.between_sd**2 + float(logs.sum()) / within**2) / precision
    return Pooled(mean=mean, sd=1.0 / sqrt(precision), within_sd=within, df=df, cooks=seen)


def log_normal_grid(median: float, log_sd: float) -> tuple[FloatArray, FloatArray]:
    """Values in even steps of their logarithm, four deviations each way, and the logarithm of their prior weight."""
    deviations = np.linspace(-4.0, 4.0, _CENTRES)
    return median * np.exp(log_sd * deviations), -0.5 * deviations**2


def fitted_on_grid(values: FloatArray, log_weight: FloatArray, cooks: int, level: float) -> Fitted:
    """Median and central interval of ascending values with these logarithms of their weights."""
    weight = np.exp(log_weight - log_weight.max())
    cumulative = np.cumsum(weight) - 0.5 * weight
    tail = (1.0 - level) / 2.0
    wanted = np.interp((tail, 0.5, 1.0 - tail), cumulative / weight.sum(), np.log(values))
    low, middle, high = np.exp(wanted).tolist()
    return Fitted(value=middle, low=low, high=high, cooks=cooks)
