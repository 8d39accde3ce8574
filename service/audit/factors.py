"""Ovens, bags and policies taken together: what each explains of a measure, and what they explain only together.

Model. Each label with two values or more is a factor. The analysis of variance says what part of the scatter between the
bags each factor and each combination explains (service.audit.variance). Where every factor has just two values and every
combination was cooked once, there is no scatter left to test against, and the effects are told with Lenth's error instead
(service.audit.two_level).

Range. Two factors or more, as one alone is what the comparison of its groups tells; up to `most_groups` values each, and
`most_analysed` bags.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from service.audit.groups import LABELS, Label
from service.audit.least_squares import Tested
from service.audit.measures import MEASURES, Measure
from service.audit.numbers import audit_numbers
from service.audit.two_level import two_level_effects
from service.audit.variance import Term, analysis_of_variance
from service.outcomes.finished import FinishedCook
from service.units import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What it does to have these factors high: the second value of each that comes up, against the first."""

    factors: tuple[str, ...]
    effect: Tested


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorsFound:
    """The analysis of one measure.

    Attributes:
        measure, unit: what was measured.
        factors: the labels with two values or more.
        terms: of the analysis of variance; empty where each combination was cooked once.
        residual_ss, residual_df: what it leaves.
        effects: of two values each, cooked once; empty otherwise.
    """

    measure: Measure
    unit: str
    factors: tuple[Label, ...]
    terms: tuple[Term, ...]
    residual_ss: float
    residual_df: int
    effects: tuple[Effect, ...]


def factors_found(cooks: Sequence[FinishedCook], measure: Measure, level: float) -> FactorsFound | None:
    """The analysis of the cooks that have the measure and all the labels; None where there are too few of them."""
    unit, measured = MEASURES[measure]
    rows = [(one, value) for one in cooks if (value := measured(one)) is not None]
    values = {label: [getattr(one.outcome, label) for one, _ in rows] for label in LABELS}
    factors = tuple(label for label in LABELS if _is_factor(values[label]))
    numbers = np.array([value for _, value in rows])
    if len(factors) < 2 or not 4 <= numbers.size <= audit_numbers().number("most_analysed"):
        return None
    table = analysis_of_variance(numbers, {label: values[label] for label in factors})
    effects = _effects(numbers, {label: values[label] for label in factors}, level)
    if not effects and table.residual_df == 0:
        return None
    return FactorsFound(
        measure=measure,
        unit=unit,
        factors=factors,
        terms=() if effects else table.terms,
        residual_ss=table.residual_ss,
        residual_df=table.residual_df,
        effects=effects,
    )


def _is_factor(values: Sequence[str | None]) -> bool:
    return None not in values and 2 <= len(set(values)) <= audit_numbers().number("most_groups")


def _effects(numbers: FloatArray, values: dict[Label, list[str]], level: float) -> tuple[Effect, ...]:
    levels = [list(dict.fromkeys(said)) for said in values.values()]
    if any(len(distinct) != 2 for distinct in levels) or numbers.size != 2 ** len(levels):
        return ()
    by_levels = dict(zip(zip(*values.values(), strict=True), numbers.tolist(), strict=True))
    if len(by_levels) != numbers.size:
        return ()
    # In standard order the first factor changes fastest.
    ordered = [by_levels[combination[::-1]] for combination in product(*levels[::-1])]
    found = two_level_effects(np.array(ordered), tuple(values), level)
    return tuple(Effect(factors=factors, effect=effect) for factors, effect in found.effects.items())
