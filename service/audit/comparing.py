"""Two groups of bags compared: is the difference real, and how large is it?

Model. One number a bag, normal about its group's mean; bags, not kernels, are the sample.

* pooled: both groups scatter alike.
* Welch: they need not; degrees of freedom by Satterthwaite. What to use unless cooks are paired.
* paired: each bag of one group belongs to one of the other (the same trial), and only differences count.

The effect size is Cohen's d, the difference over the pooled standard deviation; for pairs, over that of the differences.
The permutation test asks how many ways of dealing the same numbers to the groups part them at least as far; it assumes
nothing of their distribution, and is exact.

Range. Two bags a group, or two pairs; a mean may be of one bag, and has no interval then. The permutation test up to
MOST_WAYS ways, None beyond.

References. B. L. Welch (1947), Biometrika 34:28-35; F. E. Satterthwaite (1946), Biometrics Bull. 2:110-114; J. Cohen
(1988), Statistical Power Analysis for the Behavioral Sciences.
"""

from dataclasses import dataclass
from itertools import combinations
from math import comb, sqrt
from typing import Literal, TypeAlias

import numpy as np

from service.audit.intervals import Interval
from service.audit.least_squares import Tested, TooFew, tested
from service.audit.tails import t_quantile
from service.units import FloatArray

Test: TypeAlias = Literal["pooled", "welch", "paired"]
MOST_WAYS = 200_000
# Beyond this the ways need not even be counted.
_MOST_DEALT = 200
_ROUNDING = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanOf:
    """A mean of bags: value, number, and where there are two or more, standard deviation and Student's interval."""

    value: float
    sd: float | None
    bags: int
    interval: Interval | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """The second group less the first.

    Attributes:
        test: which one.
        difference: with its interval and test.
        cohens_d: effect size; None where nothing scatters.
        permutation_p: of the exact permutation test; None where there are too many ways.
    """

    test: Test
    difference: Tested
    cohens_d: float | None
    permutation_p: float | None


def mean_of(values: FloatArray, level: float) -> MeanOf:
    """Mean of (n,) numbers with Student's interval. Raises TooFew for none."""
    if not values.size:
        raise TooFew("there is nothing to take the mean of")
    mean, count = float(values.mean()), values.size
    if count == 1:
        return MeanOf(value=mean, sd=None, bags=1, interval=None)
    sd = float(values.std(ddof=1))
    reach = t_quantile(0.5 + level / 2.0, count - 1) * sd / sqrt(count)
    return MeanOf(value=mean, sd=sd, bags=count, interval=Interval(low=mean - reach, high=mean + reach))


def pooled(first: FloatArray, second: FloatArray, level: float) -> Comparison:
    """Student's t-test of two groups that scatter alike. Raises TooFew for fewer than two in one of them."""
    _need_two(first, second)
    df = first.size + second.size - 2
    error = _pooled_sd(first, second) * sqrt(1.0 / first.size + 1.0 / second.size)
    return _unpaired("pooled", first, second, tested(_difference(first, second), error, df, level))


def welch(first: FloatArray, second: FloatArray, level: float) -> Comparison:
    """Welch's t-test of two groups. Raises TooFew for fewer than two in one of them."""
    _need_two(first, second)
    one, other = float(first.var(ddof=1)) / first.size, float(second.var(ddof=1)) / second.size
    both = one + other
    df = (
        both**2 / (one**2 / (first.size - 1) + other**2 / (second.size - 1))
        if both > 0.0
        else first.size + second.size - 2
    )
    return _unpaired("welch", first, second, tested(_difference(first, second), sqrt(both), df, level))


def paired(first: FloatArray, second: FloatArray, level: float) -> Comparison:
    """The t-test of the differences of pairs. Raises TooFew for fewer than two, ValueError where one lacks its partner."""
    if first.size != second.size:
        raise ValueError(f"pairs need as many of one as of the other; got {first.size} and {second.size}")
    _need_two(first)
    differences = second - first
    mean, sd = float(differences.mean()), float(differences.std(ddof=1))
    return Comparison(
        test="paired",
        difference=tested(mean, sd / sqrt(differences.size), differences.size - 1, level),
        cohens_d=mean / sd if sd > 0.0 else None,
        permutation_p=_share_of_sign_flips(differences),
    )


def _unpaired(test: Test, first: FloatArray, second: FloatArray, difference: Tested) -> Comparison:
    sd = _pooled_sd(first, second)
    return Comparison(
        test=test,
        difference=difference,
        cohens_d=difference.value / sd if sd > 0.0 else None,
        permutation_p=_share_of_dealings(first, second),
    )


def _difference(first: FloatArray, second: FloatArray) -> float:
    return float(second.mean()) - float(first.mean())


def _pooled_sd(first: FloatArray, second: FloatArray) -> float:
    squares = float(((first - first.mean()) ** 2).sum()) + float(((second - second.mean()) ** 2).sum())
    return sqrt(squares / (first.size + second.size - 2))


def _share_of_dealings(first: FloatArray, second: FloatArray) -> float | None:
    """Share of all ways to deal the numbers into groups of these sizes that part the means at least as far."""
    every = np.concatenate((first, second))
    if every.size > _MOST_DEALT or comb(every.size, first.size) > MOST_WAYS:
        return None
    dealt = np.array(list(combinations(range(every.size), first.size)))
    sums = every[dealt].sum(axis=1)
    expected = every.sum() * first.size / every.size
    return _share_at_least(np.abs(sums - expected), abs(float(first.sum()) - expected))


def _share_of_sign_flips(differences: FloatArray) -> float | None:
    if differences.size > _MOST_DEALT or 2**differences.size > MOST_WAYS:
        return None
    signs = 1.0 - 2.0 * ((np.arange(2**differences.size)[:, None] >> np.arange(differences.size)) & 1)
    return _share_at_least(np.abs(signs @ differences), abs(float(differences.sum())))


def _share_at_least(distances: FloatArray, seen: float) -> float:
    return float(np.mean(distances >= seen - _ROUNDING * max(seen, 1.0)))


def _need_two(*groups: FloatArray) -> None:
    for group in groups:
        if group.size < 2:
            raise TooFew(f"a group needs two bags to show how they scatter; there are {group.size}")
