"""Intervals of a share, right for small counts too.

Model. Each of n kernels is left with one and the same probability, independently.

* exact (Clopper and Pearson): never covers less than it says; the ends are beta quantiles.
* Wilson: inverts the score test; covers what it says on average, and is shorter.
* normal: the share and its standard error; as in textbooks, for large counts. Here so that published figures can be
  compared, never for a decision.

Kernels of one bag are hotter or colder together, so shares of several bags scatter more than that. The interval that
allows for it (Korn and Graubard) is the exact one of fewer, effective kernels: n / D, with D the variance between the
bags over the binomial one, and less again because D is known from few bags.

Range. Any counts. With one bag nothing is known of D; D below 1 is taken for 1.

References. C. J. Clopper and E. S. Pearson (1934), Biometrika 26:404-413; E. B. Wilson (1927), J. Amer. Stat. Assoc.
22:209-212; E. L. Korn and B. I. Graubard (1998), Survey Methodology 24:193-201.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from service.audit.incomplete_beta import inverse_incomplete_beta
from service.audit.tails import normal_quantile, t_quantile


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """From `low` to `high`."""

    low: float
    high: float

    def holds(self, value: float) -> bool:
        return self.low <= value <= self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class PooledShare:
    """A share over several bags.

    Attributes:
        count, of: what was counted, out of how many.
        bags: how many bags.
        exact, wilson: as if all kernels were independent.
        scatter: variance between the bags over the binomial one; None with one bag, or where all or none were counted.
        allowing_for_bags: the interval to trust; None with one bag.
    """

    count: int
    of: int
    bags: int
    exact: Interval
    wilson: Interval
    scatter: float | None
    allowing_for_bags: Interval | None

    @property
    def value(self) -> float:
        return self.count / self.of


def exact_interval(count: float, of: float, level: float) -> Interval:
    """Clopper and Pearson's interval; counts need not be whole. Raises ValueError for a count outside 0 to `of`."""
    _check(count, of, level)
    tail = (1.0 - level) / 2.0
    low = inverse_incomplete_beta(count, of - count + 1.0, tail) if count > 0 else 0.0
    high = inverse_incomplete_beta(count + 1.0, of - count, 1.0 - tail) if count < of else 1.0
    return Interval(low=low, high=high)


def wilson_interval(count: float, of: float, level: float) -> Interval:
    """Wilson's interval. Raises ValueError for a count outside 0 to `of`."""
    _check(count, of, level)
    z = normal_quantile(0.5 + level / 2.0)
    share, weight = count / of, z * z / of
    middle = (share + weight / 2.0) / (1.0 + weight)
    reach = z * sqrt(share * (1.0 - share) / of + weight / (4.0 * of)) / (1.0 + weight)
    # At the ends of the scale rounding alone would leave them.
    return Interval(low=0.0 if count == 0 else middle - reach, high=1.0 if count == of else middle + reach)


def normal_interval(count: float, of: float, level: float) -> Interval:
    """The textbook's interval, share and standard error; it may leave 0 to 1."""
    _check(count, of, level)
    share = count / of
    reach = normal_quantile(0.5 + level / 2.0) * sqrt(share * (1.0 - share) / of)
    return Interval(low=share - reach, high=share + reach)


def pooled_share(counts: Sequence[int], totals: Sequence[int], level: float) -> PooledShare:
    """One share over bags with `counts` out of `totals`. Raises ValueError with no bags, or for impossible counts."""
    count, of = sum(counts), sum(totals)
    scatter = _scatter(counts, totals)
    return PooledShare(
        count=count,
        of=of,
        bags=len(counts),
        exact=exact_interval(count, of, level),
        wilson=wilson_interval(count, of, level),
        scatter=scatter,
        allowing_for_bags=None if len(counts) < 2 else _of_effective(count, of, len(counts), scatter or 1.0, level),
    )


def _scatter(counts: Sequence[int], totals: Sequence[int]) -> float | None:
    """Variance of the pooled share as a ratio of totals, over the binomial one; None where it cannot be told."""
    count, of, bags = sum(counts), sum(totals), len(counts)
    if bags < 2 or not 0 < count < of:
        return None
    share = count / of
    deviations = np.asarray(counts, dtype=np.float64) - share * np.asarray(totals, dtype=np.float64)
    variance = bags / (bags - 1.0) * float(deviations @ deviations) / of**2
    return variance / (share * (1.0 - share) / of)


def _of_effective(count: int, of: int, bags: int, scatter: float, level: float) -> Interval:
    fewer = (t_quantile(0.5 + level / 2.0, of - 1) / t_quantile(0.5 + level / 2.0, bags - 1)) ** 2
    effective = min(of / max(scatter, 1.0) * fewer, float(of))
    return exact_interval(count / of * effective, effective, level)


def _check(count: float, of: float, level: float) -> None:
    if not (0.0 <= count <= of and of > 0.0):
        raise ValueError(f"a count is from 0 to the number it is out of; got {count} of {of}")
    if not 0.0 < level < 1.0:
        raise ValueError(f"the level of an interval is above 0 and below 1; got {level}")
