"""Analysis of variance of a set of cooks that differ in one to three factors, with their interactions.

Model. The mean of a cell is a sum of effects of the factors and of their combinations; the scatter within a cell is the
same everywhere. A term's sum of squares is by how much it lowers that of the residuals when it joins all terms that do
not contain it (type II). In a balanced set that is the only answer there is.

Range. One to MOST_FACTORS factors of two levels or more. Without two cooks in some cell the highest interaction leaves no
scatter to test against; `together` says how many factors may act together.

References. F. Yates (1934), J. Amer. Stat. Assoc. 29:51-66; R. A. Fisher (1925), Statistical Methods for Research Workers.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from service.audit.least_squares import TooFew, residual_ss
from service.audit.tails import f_tail
from service.units import FloatArray

MOST_FACTORS = 3
# Of the total: residuals of less than that are what rounding leaves of none.
_ROUNDING = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One factor or a combination of factors.

    Attributes:
        factors: their names.
        sum_of_squares, df: what it explains, with how many degrees of freedom.
        f, p: Fisher's F against the residuals, and the probability of one as large by chance; None without residuals,
            or with none but rounding.
        share: of the total sum of squares (eta squared), its effect size.
    """

    factors: tuple[str, ...]
    sum_of_squares: float
    df: int
    f: float | None
    p: float | None
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VarianceTable:
    """All terms, single factors first, and what is left."""

    terms: tuple[Term, ...]
    residual_ss: float
    residual_df: int
    total_ss: float
    mean: float

    def of(self, *factors: str) -> Term:
        """The term of these factors in any order. Raises KeyError where there is none."""
        for term in self.terms:
            if set(term.factors) == set(factors):
                return term
        raise KeyError(
            f"no term {' x '.join(factors)}; there are {', '.join(' x '.join(t.factors) for t in self.terms)}"
        )


def analysis_of_variance(
    values: FloatArray, factors: Mapping[str, Sequence[object]], together: int = MOST_FACTORS
) -> VarianceTable:
    """Analyse (n,) values by factors, each with the level of every value; up to `together` of them act together.

    Raises TooFew for a factor of one level, and ValueError for no factors, too many, or levels of another length.
    """
    coded = _coded(values.size, factors)
    names = [chosen for order in range(1, together + 1) for chosen in combinations(coded, order)]
    columns = {chosen: _product([coded[name] for name in chosen]) for chosen in names}
    left_ss, rank = residual_ss(_design(values.size, columns.values()), values)
    left_df = values.size - rank
    total_ss = float(((values - values.mean()) ** 2).sum())
    terms = tuple(_term(values, columns, chosen, (left_ss, left_df, total_ss)) for chosen in names)
    return VarianceTable(
        terms=terms, residual_ss=left_ss, residual_df=left_df, total_ss=total_ss, mean=float(values.mean())
    )


def _term(
    values: FloatArray,
    columns: Mapping[tuple[str, ...], FloatArray],
    chosen: tuple[str, ...],
    residuals: tuple[float, int, float],
) -> Term:
    left_ss, left_df, total_ss = residuals
    beside = [columns[other] for other in columns if not set(chosen) <= set(other)]
    without_ss, without_rank = residual_ss(_design(values.size, beside), values)
    with_ss, with_rank = residual_ss(_design(values.size, [*beside, columns[chosen]]), values)
    sum_of_squares, df = max(without_ss - with_ss, 0.0), with_rank - without_rank
    f = None
    if left_df > 0 and left_ss > _ROUNDING * total_ss and df > 0:
        f = sum_of_squares / df / (left_ss / left_df)
    return Term(
        factors=chosen,
        sum_of_squares=sum_of_squares,
        df=df,
        f=f,
        p=None if f is None else f_tail(f, df, left_df),
        share=sum_of_squares / total_ss if total_ss > 0.0 else 0.0,
    )


def _coded(count: int, factors: Mapping[str, Sequence[object]]) -> dict[str, FloatArray]:
    """Each factor as (n, levels - 1) columns that sum to zero over its levels."""
    if not 1 <= len(factors) <= MOST_FACTORS:
        raise ValueError(f"an analysis of variance takes 1 to {MOST_FACTORS} factors; got {len(factors)}")
    coded = {}
    for name, levels in factors.items():
        if len(levels) != count:
            raise ValueError(f"{name}: expected {count} levels, one for each value; got {len(levels)}")
        distinct = list(dict.fromkeys(levels))
        if len(distinct) < 2:
            raise TooFew(f"{name}: a factor needs two levels; there is only {distinct}")
        place = np.array([distinct.index(level) for level in levels])
        coded[name] = np.concatenate((np.eye(len(distinct) - 1), -np.ones((1, len(distinct) - 1))))[place]
    return coded


def _product(parts: Sequence[FloatArray]) -> FloatArray:
    columns = parts[0]
    for part in parts[1:]:
        columns = (columns[:, :, None] * part[:, None, :]).reshape(len(columns), -1)
    return columns


def _design(count: int, columns: object) -> FloatArray:
    design: FloatArray = np.column_stack((np.ones(count), *columns))  # type: ignore[misc]
    return design
