"""Does a fitted intensity fit? Time rescaling and the Kolmogorov-Smirnov distance.

Model. If events come with intensity lambda(t), of integral Lambda(t), then the steps z_k = Lambda(t_k) -
Lambda(t_{k-1}) are independent and exponential of mean 1, and u_k = 1 - exp(-z_k) are uniform. The largest distance
between their empirical distribution and the diagonal says how far the intensity is off.

Range. Any intensity that does not look ahead. The bound is that of a fully specified intensity: one fitted to the
same events lies closer to the diagonal, so that the test then rejects too seldom, not too often. With Stephens'
correction it is within 0.2 % of the exact bound from 10 events on.

References. E. N. Brown, R. Barbieri, V. Ventura, R. E. Kass and L. M. Frank (2002), Neural Computation 14:325-346;
M. A. Stephens (1970), J. R. Stat. Soc. B 32:115-122.
"""

from math import log, sqrt

import numpy as np

from service.units import FloatArray


def rescaled_residuals(cumulative_intensity: FloatArray) -> FloatArray:
    """Steps of the integrated intensity from event to event (the first from 0), of the same length; no unit.

    Raises ValueError where the integrated intensity falls.
    """
    residuals = np.diff(cumulative_intensity, prepend=0.0)
    if np.any(residuals < 0.0):
        raise ValueError("an integrated intensity cannot fall from one event to the next")
    return residuals


def uniform_residuals(residuals: FloatArray) -> FloatArray:
    """The residuals brought to 0..1, where a right intensity makes them uniform."""
    return -np.expm1(-residuals)


def ks_distance(uniform: FloatArray) -> float:
    """Kolmogorov-Smirnov distance of values in 0..1 from the uniform distribution. Raises ValueError with none."""
    if uniform.size == 0:
        raise ValueError("a distance needs at least one event")
    ordered = np.sort(uniform)
    step = np.arange(ordered.size + 1) / ordered.size
    return float(max(np.max(step[1:] - ordered), np.max(ordered - step[:-1])))


def ks_bound(events: int, level: float) -> float:
    """The distance that a right intensity stays below with probability `level`, for this many events.

    Raises ValueError with no events, or with a level outside 0.5 to 1 (the first term of Kolmogorov's series is not
    enough).
    """
    if events < 1 or not 0.5 < level < 1.0:
        raise ValueError(f"a bound needs at least one event and a level between 0.5 and 1; got {events} and {level}")
    asymptotic = sqrt(-0.5 * log((1.0 - level) / 2.0))
    return asymptotic / (sqrt(events) + 0.12 + 0.11 / sqrt(events))
