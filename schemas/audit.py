"""An audit as it is told: rounded numbers, and never a NaN. What stands behind a number is described beside it."""

from typing import Any

from marshmallow import Schema, fields

from schemas.answer import Told
from service.audit.audit import Audit


def _part(schema: type[Schema], says: str, *, nullable: bool = False) -> fields.Nested:
    return fields.Nested(schema, allow_none=nullable, metadata={"description": says})


def _parts(schema: type[Schema], says: str) -> fields.List[Any]:
    return fields.List(fields.Nested(schema), metadata={"description": says})


class IntervalSchema(Schema):
    """An interval that holds the truth in `interval_pct` of all such audits."""

    low = Told("number", "the lower end")
    high = Told("number", "the upper end")


class PooledShareSchema(Schema):
    """A share over several bags."""

    value = Told("number", "the share")
    count = Told("integer", "what was counted")
    of = Told("integer", "out of how many kernels")
    bags = Told("integer", "in how many bags")
    exact = _part(IntervalSchema, "Clopper and Pearson's interval, as if all kernels were independent")
    wilson = _part(IntervalSchema, "Wilson's interval, likewise")
    scatter = Told("number", "variance between the bags over that of independent kernels", nullable=True)
    allowing_for_bags = _part(
        IntervalSchema, "the interval to trust: it allows for bags that differ; null with one bag", nullable=True
    )


class MeanSchema(Schema):
    """A mean of one number a bag."""

    value = Told("number", "the mean")
    sd = Told("number", "standard deviation between the bags; null with one bag", nullable=True)
    bags = Told("integer", "how many bags")
    interval = _part(IntervalSchema, "Student's interval of the mean; null with one bag", nullable=True)


class MeasureSchema(Schema):
    """A measure and its mean."""

    measure = Told("string", "what was measured")
    unit = Told("string", "its unit, 1 for a share")
    mean = _part(MeanSchema, "over the bags")


class GroupSchema(Schema):
    """What was found in all cooks, or in those of one oven, bag or policy."""

    by = Told("string", "the label that makes the group: oven, bag or policy; null for all cooks", nullable=True)
    name = Told("string", "the value of the label; `all` for all cooks")
    cooks = Told("integer", "how many")
    unpopped = _part(PooledShareSchema, "kernels that did not pop; null where nobody counted", nullable=True)
    scorched = _part(PooledShareSchema, "pieces that scorched, of all kernels", nullable=True)
    estimated = Told("integer", "in how many bags the kernels were estimated from the mass")
    means = _parts(MeasureSchema, "each measure that was taken of a bag")


class TestedSchema(Schema):
    """An estimate with the test that it is zero."""

    value = Told("number", "the estimate")
    interval = _part(IntervalSchema, "its interval")
    t = Told("number", "Student's t; null where nothing scatters", nullable=True)
    df = Told("number", "degrees of freedom")
    p = Told("number", "probability of a t as far from zero by chance")


class ComparisonSchema(Schema):
    """A test of two groups."""

    test = Told("string", "pooled, welch or paired")
    difference = _part(TestedSchema, "the second group less the first")
    cohens_d = Told("number", "effect size: the difference in standard deviations", nullable=True)
    permutation_p = Told("number", "p of the exact permutation test; null for many bags", nullable=True)


class TrendSchema(Schema):
    """A change from trial to trial, such as of an oven that warms up."""

    slope = _part(TestedSchema, "the change a trial")
    trials = Told("integer", "how many different trials")


class GroupsComparedSchema(Schema):
    """Two groups compared in one measure: the second less the first."""

    says = Told("string", "the result in a sentence or two")
    measure = Told("string", "what was measured")
    unit = Told("string", "its unit, 1 for a share")
    by = Told("string", "the label that tells the groups apart")
    first = Told("string", "the first group")
    second = Told("string", "the second group")
    means = _parts(MeanSchema, "of the first and of the second")
    decides = _part(TestedSchema, "the estimate that decides")
    because = Told("string", "why that one")
    adjusted_p = Told("number", "its p, raised for the number of pairs compared (Holm)")
    welch = _part(ComparisonSchema, "Welch's test")
    pooled = _part(ComparisonSchema, "Student's test")
    paired = _part(ComparisonSchema, "the test of the pairs; null where cooks are not paired", nullable=True)
    trend = _part(TrendSchema, "the change over the trials; null without numbered trials", nullable=True)
    detrended = _part(TestedSchema, "the difference beside that change", nullable=True)
    also_differ = Told("array", "labels in which the groups differ besides")


class TermSchema(Schema):
    """A line of an analysis of variance."""

    factors = Told("array", "the labels that act, together where there are several")
    sum_of_squares = Told("number", "what it explains")
    df = Told("integer", "degrees of freedom")
    f = Told("number", "Fisher's F against the scatter between bags", nullable=True)
    p = Told("number", "probability of one as large by chance", nullable=True)
    share = Told("number", "of all the scatter (eta squared)")


class EffectSchema(Schema):
    """What it does to have labels at their second value."""

    factors = Told("array", "the labels")
    effect = _part(TestedSchema, "mean with less mean without; tested by Lenth's error")


class FactorsSchema(Schema):
    """The labels taken together, in one measure."""

    measure = Told("string", "what was measured")
    unit = Told("string", "its unit, 1 for a share")
    factors = Told("array", "the labels with two values or more")
    terms = _parts(TermSchema, "the analysis of variance")
    residual_ss = Told("number", "what it leaves")
    residual_df = Told("integer", "with how many degrees of freedom")
    effects = _parts(EffectSchema, "instead, where each label has two values and each combination was cooked once")


class CandidateSchema(Schema):
    """One kind of control."""

    kind = Told("string", "timer, steam, sound or something-else")
    probability = Told("number", "that it is this one, out of the four")
    says = Told("string", "its best variant, in words")
    within_s = Told("number", "how closely that explains the stops (s)")


class ControlSchema(Schema):
    """What a control follows."""

    follows = Told("string", "timer, steam, sound or something-else; null where it cannot be said", nullable=True)
    confidence = Told("string", "almost certain, very likely, likely, or cannot say")
    says = Told("string", "the same in a sentence or two")
    candidates = _parts(CandidateSchema, "all kinds that could be looked at, the likeliest first")
    cooks = Told("integer", "how many stops of the oven there were")
    sizes = Told("integer", "with bags of how many sizes")
    more_cooks = Told(
        "integer", "how many more would probably make it almost certain; null where cooks like these would not",
        nullable=True,
    )  # fmt: skip


class OvenControlSchema(Schema):
    """One oven and its control under one policy."""

    oven = Told("string", "its label; null for cooks without one", nullable=True)
    policy = Told("string", "the label of the policy; null for cooks without one", nullable=True)
    control = _part(ControlSchema, "what its stops say")


class OtherRuleSchema(Schema):
    """What another rule would have done to the same cooks."""

    rule = Told(
        "string", "ours, first-silence (after the peak, of two seconds unless the setup says), or steam-times-constant"
    )
    cooks = Told("integer", "in how many cooks it had something to go by")
    foreseen = Told("integer", "in how many of them it would have gone on beyond the real stop")
    later_s = _part(MeanSchema, "how much later than the real stop (s); null without a cook", nullable=True)
    pops_after = Told("number", "pops heard between an earlier stop and the real one, a cook")


class AuditSchema(Schema):
    """What was found in a set of cooks."""

    cooks = Told("integer", "how many")
    interval_pct = fields.Function(
        lambda audit: round(100.0 * audit.level, 6), metadata={"description": "how much probability intervals hold (%)"}
    )
    groups = _parts(GroupSchema, "all cooks first, then each oven, bag and policy")
    comparisons = _parts(GroupsComparedSchema, "all pairs of ovens, of bags and of policies")
    factors = _parts(FactorsSchema, "ovens, bags and policies taken together")
    controls = _parts(OvenControlSchema, "what the own control of each oven follows")
    other_rules = _parts(OtherRuleSchema, "what would have happened under other rules")


_AUDIT = AuditSchema()


def audit_of(found: Audit) -> dict[str, Any]:
    """The audit as it is written."""
    told: dict[str, Any] = _AUDIT.dump(found)
    return told
