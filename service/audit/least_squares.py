"""A straight line or plane through numbers by least squares, with what is needed to test each of its coefficients.

Model. y = X b + e with independent, equally scattered errors. b is the least-squares solution; its covariance is the
residual variance times the inverse of X'X.

Range. More numbers than coefficients are needed for a test; columns that depend on each other are refused.
"""

from dataclasses import dataclass
from math import inf, sqrt

import numpy as np

from service.audit.intervals import Interval
from service.audit.tails import t_quantile, t_two_tails
from service.units import FloatArray


class TooFew(ValueError):
    """There are too few numbers, or they are too much alike, to say anything; the text says what is missing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tested:
    """An estimate with its interval and the test that it is zero.

    Attributes:
        value: the estimate.
        interval: of the wanted level.
        t, df: Student's t and its degrees of freedom; t is infinite where nothing scatters.
        p: probability of a t at least as far from zero if the truth were zero.
    """

    value: float
    interval: Interval
    t: float
    df: float
    p: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Coefficients (p,), their covariance (p, p), the residual sum of squares and its degrees of freedom."""

    coefficients: FloatArray
    covariance: FloatArray
    residual_ss: float
    df: int

    def tested(self, index: int, level: float) -> Tested:
        """One coefficient with its interval and test."""
        return tested(float(self.coefficients[index]), sqrt(float(self.covariance[index, index])), self.df, level)


def tested(value: float, standard_error: float, df: float, level: float) -> Tested:
    """An estimate with a standard error of `df` degrees of freedom."""
    reach = t_quantile(0.5 + level / 2.0, df) * standard_error
    interval = Interval(low=value - reach, high=value + reach)
    if standard_error == 0.0:
        return Tested(value=value, interval=interval, t=inf if value else 0.0, df=df, p=0.0 if value else 1.0)
    t = value / standard_error
    return Tested(value=value, interval=interval, t=t, df=df, p=t_two_tails(t, df))


def least_squares(design: FloatArray, values: FloatArray) -> Fit:
    """Fit (n,) values by the (n, p) design. Raises TooFew unless n > p and no column follows from the others."""
    count, columns = design.shape
    if count <= columns:
        raise TooFew(f"{columns} coefficients need more than {columns} numbers; there are {count}")
    if np.linalg.matrix_rank(design) < columns:
        raise TooFew("the groups, factors or trials are not told apart by these cooks")
    coefficients: FloatArray = np.linalg.lstsq(design, values)[0].astype(np.float64)
    residuals = values - design @ coefficients
    residual_ss = float(residuals @ residuals)
    df = count - columns
    covariance: FloatArray = np.linalg.inv(design.T @ design) * (residual_ss / df)
    return Fit(coefficients=coefficients, covariance=covariance, residual_ss=residual_ss, df=df)


def residual_ss(design: FloatArray, values: FloatArray) -> tuple[float, int]:
    """Residual sum of squares and the rank of the design, whose columns may depend on each other."""
    coefficients, _, rank, _ = np.linalg.lstsq(design, values)
    residuals = values - design @ coefficients
    return float(residuals @ residuals), int(rank)
