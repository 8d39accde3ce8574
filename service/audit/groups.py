"""Groups of finished cooks compared: two ovens, two bags or two policies, in one number that was found in each bag.

Model. Each bag gives one number. Two groups are compared by Welch's test; where every cook of one group has its partner in
the other (the same trial, and the same oven, bag and policy but for the one that is compared), by the paired test. Where
the trials are numbered, a trend over them is looked for, named when it is there, and taken out. The comparison that decides
is the paired one, else the one beside a trend, else Welch's; the others are told too. With more than two groups all pairs
are compared, and their p-values raised so that not even one is false by chance more often than it says (Holm).

Range. Two bags a group. Groups that also differ in something else cannot be told apart from it; what that is, is named.

Reference. S. Holm (1979), Scand. J. Statist. 6:65-70.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal, TypeAlias

import numpy as np

from service.audit.comparing import Comparison, MeanOf, mean_of, paired, pooled, welch
from service.audit.least_squares import Tested, TooFew
from service.audit.measures import MEASURES, NAMES, Measure
from service.audit.numbers import audit_numbers
from service.audit.trends import Trend, detrended_difference, trend
from service.outcomes.finished import FinishedCook
from service.units import FloatArray

Label: TypeAlias = Literal["oven", "bag", "policy"]
LABELS: tuple[Label, ...] = ("oven", "bag", "policy")


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupsCompared:
    """Two groups in one measure: the second less the first.

    Attributes:
        measure, unit: what was measured.
        by: the label that tells the groups apart.
        first, second: their names, with the mean of each in `means`.
        decides: the estimate that decides, and `because`: in a few words why that one.
        welch, pooled, paired: the tests; paired is None where cooks are not.
        trend, detrended: change a trial and the difference beside it; None without numbered trials.
        adjusted_p: the deciding p, raised for the number of pairs compared.
        also_differ: labels in which the groups differ besides.
        says: one or two sentences for a person.
    """

    measure: Measure
    unit: str
    by: Label
    first: str
    second: str
    means: tuple[MeanOf, MeanOf]
    decides: Tested
    because: str
    welch: Comparison
    pooled: Comparison
    paired: Comparison | None
    trend: Trend | None
    detrended: Tested | None
    adjusted_p: float
    also_differ: tuple[Label, ...]
    says: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Group:
    """The cooks of one group that have the measure, and their numbers (n,)."""

    name: str
    cooks: Sequence[FinishedCook]
    values: FloatArray

    def trials(self) -> FloatArray | None:
        trials = [one.outcome.trial for one in self.cooks]
        return None if None in trials else np.array(trials, dtype=np.float64)


def compare_groups(
    cooks: Iterable[FinishedCook], by: Label, measure: Measure, level: float
) -> tuple[GroupsCompared, ...]:
    """All pairs of groups that a label makes, in the order in which they come.

    Groups of fewer than two cooks are left out, and very many groups are not compared one by one at all.
    """
    groups = [group for group in _groups(cooks, by, measure) if group.values.size >= 2]
    if len(groups) > audit_numbers().number("most_groups"):
        return ()
    found = [_compared(first, second, by, measure, level) for first, second in combinations(groups, 2)]
    raised = holm([one.decides.p for one in found])
    return tuple(
        _with_words(replace(one, adjusted_p=adjusted_p), level) for one, adjusted_p in zip(found, raised, strict=True)
    )


def holm(p_values: Sequence[float]) -> list[float]:
    """Each of several p-values raised for their number."""
    raised, highest = [0.0] * len(p_values), 0.0
    for rank, place in enumerate(sorted(range(len(p_values)), key=lambda one: p_values[one])):
        highest = max(highest, min(1.0, (len(p_values) - rank) * p_values[place]))
        raised[place] = highest
    return raised


def _groups(cooks: Iterable[FinishedCook], by: Label, measure: Measure) -> list[_Group]:
    measured = MEASURES[measure][1]
    held: dict[str, list[tuple[FinishedCook, float]]] = {}
    for one in cooks:
        name, value = getattr(one.outcome, by), measured(one)
        if name is not None and value is not None:
            held.setdefault(name, []).append((one, value))
    return [
        _Group(name=name, cooks=[one for one, _ in rows], values=np.array([value for _, value in rows]))
        for name, rows in held.items()
    ]


def _compared(first: _Group, second: _Group, by: Label, measure: Measure, level: float) -> GroupsCompared:
    apart = welch(first.values, second.values, level)
    together = _paired(first, second, by, level)
    over_trials, beside = _over_trials(first, second, level)
    decides, because = apart.difference, "the cooks are not paired, and no trend shows"
    if together is not None:
        decides, because = together.difference, "the cooks are paired"
    elif beside is not None and over_trials is not None and _is_trend(over_trials):
        decides, because = beside, "the numbers change over the trials, and the change is taken out"
    return GroupsCompared(
        measure=measure,
        unit=MEASURES[measure][0],
        by=by,
        first=first.name,
        second=second.name,
        means=(mean_of(first.values, level), mean_of(second.values, level)),
        decides=decides,
        because=because,
        welch=apart,
        pooled=pooled(first.values, second.values, level),
        paired=together,
        trend=over_trials,
        detrended=beside,
        adjusted_p=decides.p,
        also_differ=_also_differ(first, second, by),
        says="",
    )


def _paired(first: _Group, second: _Group, by: Label, level: float) -> Comparison | None:
    one, other = _by_partner(first, by), _by_partner(second, by)
    if one is None or other is None or one.keys() != other.keys():
        return None
    return paired(np.array(list(one.values())), np.array([other[key] for key in one]), level)


def _by_partner(group: _Group, by: Label) -> Mapping[tuple[object, ...], float] | None:
    """Each number by what its partner must share with it; None where two cooks share it, or the trial is not numbered."""
    held: dict[tuple[object, ...], float] = {}
    for one, value in zip(group.cooks, group.values.tolist(), strict=True):
        key = (one.outcome.trial, *(getattr(one.outcome, label) for label in LABELS if label != by))
        if one.outcome.trial is None or key in held:
            return None
        held[key] = value
    return held


def _over_trials(first: _Group, second: _Group, level: float) -> tuple[Trend | None, Tested | None]:
    one, other = first.trials(), second.trials()
    if one is None or other is None:
        return None, None
    values, trials = np.concatenate((first.values, second.values)), np.concatenate((one, other))
    names = [first.name] * one.size + [second.name] * other.size
    try:
        return trend(values, trials, names, level), detrended_difference(values, trials, names, level)
    except TooFew:
        return None, None


def _is_trend(over_trials: Trend) -> bool:
    return over_trials.slope.p < audit_numbers().number("trend_at")


def _also_differ(first: _Group, second: _Group, by: Label) -> tuple[Label, ...]:
    def labels(group: _Group, label: Label) -> list[str]:
        return sorted(str(getattr(one.outcome, label)) for one in group.cooks)

    return tuple(label for label in LABELS if label != by and set(labels(first, label)) != set(labels(second, label)))


def _with_words(found: GroupsCompared, level: float) -> GroupsCompared:
    difference, p = found.decides, found.adjusted_p
    times, unit = (100.0, " percentage points") if found.unit == "1" else (1.0, f" {found.unit}")
    low, high = times * difference.interval.low, times * difference.interval.high
    says = (
        f"{NAMES[found.measure].capitalize()}: {_apart(found, times, unit)}"
        f" ({_test(found)}: {100.0 * level:g} % interval {low:.3g} to {high:.3g}, p = {p:.3g}{_effect(found)})."
    )
    if found.trend is not None and _is_trend(found.trend):
        slope = found.trend.slope
        says += (
            f" It changes by {times * slope.value:.3g}{unit} from trial to trial (p = {slope.p:.3g}),"
            " as in an oven that warms up."
        )
    if found.also_differ:
        says += f" The groups differ in {' and '.join(found.also_differ)} as well, which may be the reason."
    return replace(found, says=says)


def _test(found: GroupsCompared) -> str:
    """The test that decides, in words."""
    if found.paired is not None:
        return "by pairs"
    return "beside the trend" if found.decides is found.detrended else "Welch's test"


def _effect(found: GroupsCompared) -> str:
    """Its effect size; beside a trend there is none."""
    decides = found.paired or found.welch
    if found.decides is not decides.difference or decides.cohens_d is None:
        return ""
    return f", effect size d = {decides.cohens_d:.2f}"


def _apart(found: GroupsCompared, times: float, unit: str) -> str:
    value = times * found.decides.value
    if value == 0.0:
        return f"{found.second} has as much as {found.first}"
    return f"{found.second} has {abs(value):.3g}{unit} {'more' if value > 0.0 else 'less'} than {found.first}"
