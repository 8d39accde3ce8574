"""The audit of a set of finished cooks, in two steps: each cook by itself, which may be done anywhere, then all together.

Range. Popcorn cooks. What nobody looked at is left out, not guessed; a part that has too few cooks is None or empty.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.audit.comparing import MeanOf, mean_of
from service.audit.control import Control, what_it_follows
from service.audit.factors import FactorsFound, factors_found
from service.audit.groups import LABELS, GroupsCompared, Label, compare_groups
from service.audit.intervals import PooledShare, pooled_share
from service.audit.measures import MEASURES, Measure
from service.audit.numbers import audit_numbers
from service.audit.other_stops import RULES, OtherStop, Rule, other_stops
from service.audit.stop_cues import StopCues, stop_cues
from service.outcomes.finished import FinishedCook
from service.outcomes.shares import Share, kernels_in, scorched, unpopped
from service.programs.programme import Programme
from service.readings.cook import EMPTY

COMPARED: tuple[Measure, ...] = ("unpopped_share", "scorched_share", "expansion_cm3_per_g")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AuditedCook:
    """One cook by itself: what its stop can be explained by, and what other rules would have done.

    Attributes:
        finished: the cook, without its readings: a million of these are held at once.
        cues: where the oven ended it by itself and it is popcorn.
        other_stops: of popcorn of which the stop is known.
    """

    finished: FinishedCook
    cues: StopCues | None
    other_stops: tuple[OtherStop, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureFound:
    """The mean of one measure."""

    measure: Measure
    unit: str
    mean: MeanOf


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupFound:
    """What was found in the cooks of one group, or in all of them (`by` None).

    Attributes:
        by, name: the label and its value.
        cooks: how many.
        unpopped, scorched: shares of all kernels, with intervals; None where nobody counted.
        estimated: of how many bags the kernels were estimated from the mass, as nobody counted them.
        means: each measure that was taken of a bag, a number a bag.
    """

    by: Label | None
    name: str
    cooks: int
    unpopped: PooledShare | None
    scorched: PooledShare | None
    estimated: int
    means: tuple[MeasureFound, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherRule:
    """What another rule would have done, over all cooks in which it has something to go by.

    Attributes:
        rule, cooks: which, in how many cooks.
        foreseen: in how many it would have gone on beyond the real stop.
        later_s: how much later than the real stop, on average; None without a cook.
        pops_after: pops heard between an earlier stop and the real one, a cook.
    """

    rule: Rule
    cooks: int
    foreseen: int
    later_s: MeanOf | None
    pops_after: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OvenControl:
    """What the control of one oven follows under one policy; both are None for cooks without a label."""

    oven: str | None
    policy: str | None
    control: Control


@dataclass(frozen=True, slots=True, kw_only=True)
class Audit:
    """All that was found.

    Attributes:
        cooks, level: how many, and how much probability the intervals hold.
        groups: the whole set first, then each group.
        comparisons: all pairs of groups of one label.
        factors: the labels taken together.
        controls: what the control of each oven follows.
        other_rules: what other rules would have done.
    """

    cooks: int
    level: float
    groups: tuple[GroupFound, ...]
    comparisons: tuple[GroupsCompared, ...]
    factors: tuple[FactorsFound, ...]
    controls: tuple[OvenControl, ...]
    other_rules: tuple[OtherRule, ...]


def audit_cook(finished: FinishedCook, programme: Programme) -> AuditedCook:
    """The part of the audit that looks at one cook (about a tenth of a second: the whole cook is played again)."""
    is_popcorn = "acoustic" in programme.led_by
    return AuditedCook(
        finished=replace(finished, cook=EMPTY),
        cues=stop_cues(finished, programme) if is_popcorn and finished.outcome.stopped_by == "oven" else None,
        other_stops=other_stops(finished, programme) if is_popcorn else (),
    )


def audit(cooks: Sequence[AuditedCook], level: float | None = None) -> Audit:
    """The part of the audit that looks at all of them; the order of the cooks does not matter but for ties in the words."""
    finished = [one.finished for one in cooks]
    level = audit_numbers().number("interval_level") if level is None else level
    return Audit(
        cooks=len(cooks),
        level=level,
        groups=(_found(None, "all", finished, level), *_groups_found(finished, level)),
        comparisons=tuple(
            found for by in LABELS for measure in COMPARED for found in compare_groups(finished, by, measure, level)
        ),
        factors=tuple(found for measure in COMPARED if (found := factors_found(finished, measure, level)) is not None),
        controls=_controls(cooks),
        other_rules=tuple(_other_rule(rule, cooks, level) for rule in RULES),
    )


def _groups_found(finished: Sequence[FinishedCook], level: float) -> Iterable[GroupFound]:
    for by in LABELS:
        held: dict[str, list[FinishedCook]] = {}
        for one in finished:
            name = getattr(one.outcome, by)
            if name is not None:
                held.setdefault(name, []).append(one)
        for name, cooks in held.items():
            yield _found(by, name, cooks, level)


def _found(by: Label | None, name: str, finished: Sequence[FinishedCook], level: float) -> GroupFound:
    kernels = [known for one in finished if (known := kernels_in(one.outcome, one.load_g())) is not None]
    return GroupFound(
        by=by,
        name=name,
        cooks=len(finished),
        unpopped=_pooled(finished, lambda one: unpopped(one.outcome, one.load_g()), level),
        scorched=_pooled(finished, lambda one: scorched(one.outcome, one.load_g()), level),
        estimated=sum(is_estimated for _, is_estimated in kernels),
        means=tuple(_means(finished, level)),
    )


def _means(finished: Sequence[FinishedCook], level: float) -> Iterable[MeasureFound]:
    for measure, (unit, measured) in MEASURES.items():
        values = [value for one in finished if (value := measured(one)) is not None]
        if values:
            yield MeasureFound(measure=measure, unit=unit, mean=mean_of(np.array(values), level))


def _pooled(
    finished: Sequence[FinishedCook], share_of: Callable[[FinishedCook], Share | None], level: float
) -> PooledShare | None:
    shares = [share for one in finished if (share := share_of(one)) is not None]
    return pooled_share([share.count for share in shares], [share.of for share in shares], level) if shares else None


def _controls(cooks: Sequence[AuditedCook]) -> tuple[OvenControl, ...]:
    by_control: dict[tuple[str | None, str | None], list[StopCues]] = {}
    for one in cooks:
        if one.finished.outcome.stopped_by == "oven":
            cues = by_control.setdefault((one.finished.outcome.oven, one.finished.outcome.policy), [])
            if one.cues is not None:
                cues.append(one.cues)
    return tuple(
        OvenControl(oven=oven, policy=policy, control=what_it_follows(cues))
        for (oven, policy), cues in by_control.items()
    )


def _other_rule(rule: Rule, cooks: Sequence[AuditedCook], level: float) -> OtherRule:
    stops = [stop for one in cooks for stop in one.other_stops if stop.rule == rule]
    later_s = np.array([stop.later_s for stop in stops])
    return OtherRule(
        rule=rule,
        cooks=len(stops),
        foreseen=sum(stop.is_foreseen for stop in stops),
        later_s=mean_of(later_s, level) if later_s.size else None,
        pops_after=sum(stop.pops_after for stop in stops) / len(stops) if stops else 0.0,
    )
