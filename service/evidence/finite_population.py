"""How many are left, from when the others went: a finite population whose members each fail once.

Model. N kernels pop at independent random times of density f and distribution F, known up to a grid of parameters.
With n pops at times t_i until T the likelihood is

    N!/(N - n)! * product of f(t_i) * S(T)^(N - n),   S = 1 - F,

and the intensity at t is (N - n(t)) f(t)/S(t). Two ways to be rid of N, one value per grid point:

* integrated out. N is Poisson of mean a, and a has a Gamma(shape, rate) prior. Then a, given the pops, is
  Gamma(n + shape, rate + F(T)), what remains is negative-binomial, and the marginal likelihood is

      product of f(t_i) * Gamma(n + shape) / (F(T) + rate)^(n + shape).

  Shape 0 and rate 0 is the scale-invariant prior, and gives exactly what a prior of 1/N on the total of the first
  likelihood gives.
* profiled. The most likely N solves

      sum over i < n of 1/(N - i) = -ln S(T),

  and is n where that has no root above n.

An exponential density makes this the model of Jelinski and Moranda, where the hazard is estimated along with N: a
finite estimate exists only where the mean of the failure times is below T (n + 1)/(2n), that is, where failures
slow down.

Range. n up to 1e6; totals up to 1e9. Thinning (missed pops) scales N and leaves the parameters of f as they are.
The total is poorly known before most have gone, so the interval matters more than the estimate.

References. Z. Jelinski and P. B. Moranda (1972), in Statistical Computer Performance Evaluation, Academic Press,
465-484; A. L. Goel and K. Okumoto (1979), IEEE Trans. Reliab. R-28:206-211; B. Littlewood and J. L. Verrall (1981),
IEEE Trans. Reliab. R-30 (existence of the estimate).
"""

from dataclasses import dataclass
from math import inf, lgamma
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from service.units import FloatArray

EULER_GAMMA = 0.5772156649015329
SHIFT = 8  # the asymptotic series below are at the last digit from 8 on


def log_gamma(value: npt.ArrayLike) -> FloatArray:
    """Logarithm of the gamma function for values above 0; a scalar or an array."""
    x = np.asarray(value, dtype=np.float64)
    product: FloatArray = np.prod([x + step for step in range(SHIFT)], axis=0)
    y = x + SHIFT
    inverse = 1.0 / y**2
    series = (1 / 12 - inverse * (1 / 360 - inverse * (1 / 1260 - inverse * (1 / 1680 - inverse / 1188)))) / y
    stirling: FloatArray = (y - 0.5) * np.log(y) - y + 0.5 * np.log(2.0 * np.pi) + series
    return stirling - np.log(product)


def digamma(value: npt.ArrayLike) -> FloatArray:
    """Derivative of the logarithm of the gamma function for values above 0; a scalar or an array."""
    x = np.asarray(value, dtype=np.float64)
    before: FloatArray = np.sum([1.0 / (x + step) for step in range(SHIFT)], axis=0)
    y = x + SHIFT
    inverse = 1.0 / y**2
    series = inverse * (1 / 12 - inverse * (1 / 120 - inverse * (1 / 252 - inverse * (1 / 240 - inverse / 132))))
    return np.log(y) - 0.5 / y - series - before


def trigamma(value: npt.ArrayLike) -> FloatArray:
    """Second derivative of the logarithm of the gamma function for values above 0; a scalar or an array."""
    x = np.asarray(value, dtype=np.float64)
    before: FloatArray = np.sum([1.0 / (x + step) ** 2 for step in range(SHIFT)], axis=0)
    y = x + SHIFT
    inverse = 1.0 / y**2
    series = inverse / y * (1 / 6 - inverse * (1 / 30 - inverse * (1 / 42 - inverse * (1 / 30 - inverse * 5 / 66))))
    return 1.0 / y + 0.5 * inverse + series + before


def log_marginal(
    log_density_sum: npt.ArrayLike, n: float, cdf: npt.ArrayLike, prior_shape: float = 0.0, prior_rate: float = 0.0
) -> FloatArray:
    """Log-likelihood with the total integrated out, one value per grid point, up to a constant of the prior.

    log_density_sum is the sum of ln f over the n pops, cdf the value of F at the end of watching, both of one
    shape; where some pops count for less than others all three are weighted, and n need not be whole. Where
    cdf + prior_rate is zero and pops were seen, the answer is -inf. With nothing seen under the scale-invariant prior
    the data say nothing, and the answer is log_density_sum as it came.
    """
    seen, exposure = n + prior_shape, np.add(cdf, prior_rate)
    density = np.asarray(log_density_sum, dtype=np.float64)
    if seen == 0.0:
        return density + np.zeros_like(exposure)
    if prior_rate > 0.0:
        log_exposure = np.log(exposure)
        log_exposure *= seen
        log_exposure -= lgamma(seen)
        return density - log_exposure
    possible = exposure > 0.0
    log_exposure = np.log(np.where(possible, exposure, 1.0))
    return np.where(possible, density + lgamma(seen) - seen * log_exposure, -inf)


def profile_total(n: int, survival: npt.ArrayLike) -> FloatArray:
    """The most likely total at each grid point, given that n went and a share `survival` of each is still to come.

    At least n; exactly n where survival is too small for more; inf where survival is 1 (nothing could have gone,
    yet some did).
    """
    share = np.asarray(survival, dtype=np.float64)
    if n == 0:
        return np.zeros_like(share)
    with np.errstate(divide="ignore"):
        target = -np.log(share)
    harmonic = float(digamma(n + 1.0)) + EULER_GAMMA
    inside = (target > 0.0) & (target < harmonic)
    odds = np.expm1(np.where(inside, target, harmonic))
    # The sum is close to ln((N + 1/2)/(N - n + 1/2)), which gives the start.
    left: FloatArray = np.maximum(n / odds - 0.5, 0.0)
    for _ in range(3):
        left = _newton_step(left, n, odds)
    return np.where(inside, n + left, np.where(target > 0.0, float(n), inf))


def _newton_step(left: FloatArray, n: int, odds: FloatArray) -> FloatArray:
    """A step towards the number left where exp(sum) - 1 meets its target, taken on the inverse of it.

    That inverse is close to (left + 1/2)/n, so straight that a few steps are enough from anywhere.
    """
    odds_here = np.expm1(digamma(left + n + 1.0) - digamma(left + 1.0))
    fall = (trigamma(left + 1.0) - trigamma(left + n + 1.0)) * (odds_here + 1.0)
    step: FloatArray = (1.0 / odds - 1.0 / odds_here) * odds_here**2 / fall
    return np.maximum(left + step, 0.0)


def profile_log_likelihood(log_density_sum: npt.ArrayLike, n: int, survival: npt.ArrayLike) -> FloatArray:
    """Log-likelihood at the most likely total, one value per grid point; -inf where no finite total is most likely.

    log_density_sum is the sum of ln f over the n pops and survival the value of S at the end of watching, both of
    one shape.
    """
    share = np.asarray(survival, dtype=np.float64)
    total = profile_total(n, share)
    is_finite = np.isfinite(total)
    finite = np.where(is_finite, total, float(n))
    left = finite - n
    waiting = left * np.log(np.where(left > 0.0, share, 1.0))
    ways = log_gamma(finite + 1.0) - log_gamma(left + 1.0)
    return np.where(is_finite, np.asarray(log_density_sum, dtype=np.float64) + ways + waiting, -inf)


def remaining_mean(n: int, cdf: npt.ArrayLike, prior_shape: float = 0.0, prior_rate: float = 0.0) -> FloatArray:
    """Mean number still to go, at each grid point, when n went while F reached cdf; inf where nothing says how many."""
    share = np.asarray(cdf, dtype=np.float64)
    exposure = share + prior_rate
    if prior_rate > 0.0:
        return (1.0 - share) * (n + prior_shape) / exposure
    possible = exposure > 0.0
    return np.where(possible, (n + prior_shape) * (1.0 - share) / np.where(possible, exposure, 1.0), inf)


def remaining_quantile(
    probability: float, n: int, cdf: npt.ArrayLike, prior_shape: float = 0.0, prior_rate: float = 0.0
) -> FloatArray:
    """Quantile of the number still to go, at each grid point.

    The negative binomial is replaced by a gamma of the same mean and variance (and that by the cube of a normal,
    after Wilson and Hilferty), so the answer is continuous: within one kernel of the exact quantile, or 4 % of the
    mean where that is more, for means of 0.5 and up and probabilities of 0.025 to 0.975. inf where nothing says how
    many. Raises ValueError for a probability outside 0 to 1.
    """
    if not 0.0 < probability < 1.0:
        raise ValueError(f"a quantile needs a probability between 0 and 1; got {probability}")
    mean = remaining_mean(n, cdf, prior_shape, prior_rate)
    exposure = np.asarray(cdf, dtype=np.float64) + prior_rate
    usable = np.isfinite(mean) & (mean > 0.0)
    safe_mean = np.where(usable, mean, 1.0)
    variance = safe_mean * (1.0 + prior_rate) / np.where(usable, exposure, 1.0)
    spread = variance / (9.0 * safe_mean**2)
    cube_root = 1.0 - spread + NormalDist().inv_cdf(probability) * np.sqrt(spread)
    return np.where(usable, safe_mean * np.maximum(cube_root, 0.0) ** 3, mean)


def left_at_gap(hazard_per_s: npt.ArrayLike, gap_s: float) -> FloatArray:
    """How many are left when the mean gap has grown to gap_s seconds, each of them going at hazard_per_s."""
    return 1.0 / (np.asarray(hazard_per_s, dtype=np.float64) * gap_s)


def expected_time_to_last_s(left: npt.ArrayLike, hazard_per_s: npt.ArrayLike) -> FloatArray:
    """Mean time in seconds until the last of `left` (0 or more, whole or not) has gone at a constant hazard each."""
    harmonic = digamma(np.asarray(left, dtype=np.float64) + 1.0) + EULER_GAMMA
    return harmonic / np.asarray(hazard_per_s, dtype=np.float64)


def cumulative_intensity(total: float, cumulative_hazard: FloatArray) -> FloatArray:
    """Integrated intensity at each event of a population of `total`, from -ln S at the events, in order of time."""
    at_risk = total - np.arange(cumulative_hazard.size)
    return np.cumsum(at_risk * np.diff(cumulative_hazard, prepend=0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class ExponentialOrderStatistics:
    """Total and hazard of a population with one constant hazard; inf and 0 where no finite estimate exists."""

    total: float
    hazard: float  # per unit of time of the intervals
    n: int  # the sample size

    @property
    def remaining(self) -> float:
        """How many are still to go."""
        return self.total - self.n


def exponential_order_statistics(intervals: FloatArray, quiet_time: float = 0.0) -> ExponentialOrderStatistics:
    """Total and hazard that are most likely together, from the intervals between failures and a quiet time after them.

    Any unit of time. A most likely total below the number seen is put at that number. Raises ValueError with no
    intervals, or with one below zero, or with no time at all.
    """
    times = np.cumsum(intervals)
    if intervals.size == 0 or np.any(intervals < 0.0) or quiet_time < 0.0 or times[-1] <= 0.0:
        raise ValueError(f"intervals must be of at least 0 and not all 0; got {intervals} and a quiet {quiet_time}")
    n, watched, exposure = int(intervals.size), float(times[-1]) + quiet_time, float(np.sum(times))
    if exposure >= watched * (n + 1) / 2.0:
        return ExponentialOrderStatistics(total=inf, hazard=0.0, n=n)

    def total_at(hazard: float) -> float:
        return float(profile_total(n, np.exp(-hazard * watched)))

    # The score of the hazard along the profile falls through zero once between no hazard and that of a total of n.
    low, high = 0.0, n / exposure
    for _ in range(60):
        middle = (low + high) / 2.0
        if n / middle >= exposure + (total_at(middle) - n) * watched:
            low = middle
        else:
            high = middle
    return ExponentialOrderStatistics(total=total_at(low), hazard=low, n=n)
