"""The family of pop-time densities that the sound of a bag is held against.

Model. Every kernel that can pop does so once, at a random time u on the heating clock. With x = ln(u / location) the
density of x is one of a few forms, each stretched by `location`, because a bigger bag or a weaker oven stretches the
whole cook by one factor:

* even: normal in x, of standard deviation `spread`;
* slanted: the same, but narrower before the location and wider after it (cold spots leave a long right tail);
* cold-tailed: an extreme-value density in u, whose right tail falls off as a plain exponential, as first-order
  popping of what is left has it.

Which form fits is not known beforehand, so all are carried along and the pops choose.

Range. x from LOWEST to HIGHEST, beyond which a pop is taken for clutter; spreads of 0.04 to 0.35.

References. M. G. Byrd and M. J. Perona (2005), Cereal Chem. 82:53-59 (an induction period, then a first-order decrease
of the unpopped kernels); the forms and their prior weights are our own.
"""

from dataclasses import dataclass

import numpy as np

from service.units import FloatArray

STEP = 0.02
LOWEST, HIGHEST = -1.3, 1.1
BINS = round((HIGHEST - LOWEST) / STEP)
EDGES_X: FloatArray = LOWEST + np.arange(BINS + 1, dtype=np.float64) * STEP
CENTRES_X: FloatArray = EDGES_X[:-1] + STEP / 2
_FINE = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PopTimes:
    """K forms over BINS bins of x, each STEP wide.

    Attributes:
        spread: (K,) standard deviation of x, about.
        log_prior: (K,) logarithm of the prior weight.
        density: (K, BINS) mean density of x in each bin.
        cdf: (K, BINS + 1) distribution of x at the edges of the bins.
    """

    spread: FloatArray
    log_prior: FloatArray
    density: FloatArray
    cdf: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadPrior:
    """Log-normal prior of the spread, cut into `levels` between `low` and `high`, and of the forms.

    `slant` is that of the slanted form, `slanted_share` and `cold_tailed_share` are prior weights; even has the rest.
    """

    low: float
    high: float
    levels: int
    typical: float
    log_sd: float
    slant: float
    slanted_share: float
    cold_tailed_share: float


def pop_times(prior: SpreadPrior) -> PopTimes:
    """All forms at all levels of spread: K = 3 * levels, the form changing fastest."""
    levels = np.geomspace(prior.low, prior.high, prior.levels)
    x = LOWEST + (np.arange(BINS * _FINE) + 0.5) * STEP / _FINE
    shapes = [form for spread in levels for form in _forms(x, spread, prior.slant)]
    fine = np.array(shapes)
    fine /= fine.sum(axis=1, keepdims=True) * STEP / _FINE
    density = fine.reshape(len(shapes), BINS, _FINE).mean(axis=2)
    cdf = np.concatenate((np.zeros((len(shapes), 1)), np.cumsum(density, axis=1) * STEP), axis=1)
    deviation = np.log(levels / prior.typical) / prior.log_sd
    shares = np.array(
        (1.0 - prior.slanted_share - prior.cold_tailed_share, prior.slanted_share, prior.cold_tailed_share)
    )
    log_prior = (np.log(shares) - 0.5 * deviation[:, None] ** 2).ravel()
    return PopTimes(spread=np.repeat(levels, shares.size), log_prior=log_prior, density=density, cdf=cdf)


def _forms(x: FloatArray, spread: float, slant: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    return _slanted(x, spread, 0.0), _slanted(x, spread, slant), _cold_tailed(x, spread)


def _slanted(x: FloatArray, spread: float, slant: float) -> FloatArray:
    side = np.where(x < 0.0, spread * (1.0 - slant), spread * (1.0 + slant))
    density: FloatArray = np.exp(-0.5 * (x / side) ** 2)
    return density


def _cold_tailed(x: FloatArray, spread: float) -> FloatArray:
    # sqrt(6)/pi makes the standard deviation that of the other forms.
    scale = spread * np.sqrt(6.0) / np.pi
    y = (np.exp(x) - 1.0) / scale
    density: FloatArray = np.exp(x - y - np.exp(np.minimum(-y, 50.0)))
    return density
