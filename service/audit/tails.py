"""Tails and quantiles of Student's t and Fisher's F.

Model. With x = df / (df + t^2) the two tails of Student's t hold I_x(df/2, 1/2); with x = d2 / (d2 + d1 F) the upper
tail of Fisher's F holds I_x(d2/2, d1/2).

Range. As of service.audit.incomplete_beta; degrees of freedom need not be whole.

Reference. M. Abramowitz and I. A. Stegun (1964), Handbook of Mathematical Functions, 26.5.27 and 26.6.2.
"""

from math import copysign, inf, sqrt
from statistics import NormalDist

from service.audit.incomplete_beta import incomplete_beta, inverse_incomplete_beta


def t_two_tails(t: float, df: float) -> float:
    """Probability of a Student's t at least as far from zero as `t`."""
    if t == 0.0:
        return 1.0
    square = t * t
    # Near zero df / (df + t^2) rounds to one, its complement does not.
    if square < df:
        return 1.0 - incomplete_beta(0.5, df / 2.0, square / (df + square))
    return incomplete_beta(df / 2.0, 0.5, df / (df + square))


def t_quantile(probability: float, df: float) -> float:
    """The t that a Student's t stays below with this probability, which is above 0 and below 1."""
    if not 0.0 < probability < 1.0:
        raise ValueError(f"a quantile needs a probability above 0 and below 1; got {probability}")
    two_tails = 2.0 * min(probability, 1.0 - probability)
    if two_tails > 0.5:
        y = inverse_incomplete_beta(0.5, df / 2.0, 1.0 - two_tails)
        square = df * y / (1.0 - y)
    else:
        x = inverse_incomplete_beta(df / 2.0, 0.5, two_tails)
        square = df * (1.0 - x) / x if x > 0.0 else inf
    return copysign(sqrt(square), probability - 0.5)


def f_tail(f: float, numerator_df: float, denominator_df: float) -> float:
    """Probability of an F at least as large as `f`."""
    if f <= 0.0:
        return 1.0
    x = denominator_df / (denominator_df + numerator_df * f)
    return incomplete_beta(denominator_df / 2.0, numerator_df / 2.0, x)


def normal_quantile(probability: float) -> float:
    """The value that a standard normal stays below with this probability."""
    return NormalDist().inv_cdf(probability)
