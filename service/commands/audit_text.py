"""An audit in words and tables, for a terminal."""

from collections.abc import Iterator, Mapping

from service.audit.audit import Audit, GroupFound, OtherRule, OvenControl
from service.audit.comparing import MeanOf
from service.audit.control import Control
from service.audit.intervals import PooledShare
from service.audit.measures import NAMES, Measure

_RULES = {
    "ours": "our own stop",
    "first-silence": "the first silence after the peak",
    "steam-times-constant": "steam times a constant",
}
_IN: Mapping[Measure, tuple[float, str]] = {
    "unpopped_share": (100.0, " %"),
    "scorched_share": (100.0, " %"),
    "expansion_cm3_per_g": (1.0, " cm³/g"),
    "mass_lost_share": (100.0, " %"),
    "kernels_left": (1.0, ""),
    "stopped_s": (1.0, " s"),
}
"""In how many of what a measure is told."""
_IN_COLUMNS_OF_THEIR_OWN: tuple[Measure, ...] = ("unpopped_share", "scorched_share")


def told(found: Audit) -> Iterator[str]:
    """The lines of it."""
    yield f"{found.cooks} cook{'' if found.cooks == 1 else 's'}; intervals of {100.0 * found.level:g} %"
    yield ""
    yield f"{'group':<28}{'cooks':>6}  {'unpopped':<30}{'scorched':<30}"
    for group in found.groups:
        yield f"{group_name(group):<28}{group.cooks:>6}  {share(group.unpopped):<30}{share(group.scorched):<30}".rstrip()
    if estimated := found.groups[0].estimated:
        yield f"(kernels estimated from the mass in {estimated} bag{'' if estimated == 1 else 's'})"
    for heading, lines in (
        ("Of a bag, on average", [f"{group_name(one)}: {said}" for one in found.groups if (said := measures(one))]),
        ("Compared", [one.says for one in found.comparisons]),
        ("The ovens' own controls", [control_line(one) for one in found.controls]),
        ("Under other rules", [other_rule(one) for one in found.other_rules if one.cooks]),
    ):
        if lines:
            yield from ("", heading, *(f"  {line}" for line in lines))


def group_name(group: GroupFound) -> str:
    """What a group is called."""
    return "all" if group.by is None else f"{group.by} {group.name}"


def measures(group: GroupFound) -> str:
    """The means of what else was measured of each bag, with their intervals."""
    means = {one.measure: one.mean for one in group.means}
    return "; ".join(
        f"{NAMES[measure]} {times * mean.value:.3g}{unit}{_ends(mean, times)}"
        for measure, (times, unit) in _IN.items()
        if measure not in _IN_COLUMNS_OF_THEIR_OWN and (mean := means.get(measure)) is not None
    )


def measure_told(measure: Measure) -> tuple[str, float]:
    """What a measure is called with its unit, and how many of that unit one is."""
    times, unit = _IN[measure]
    return (f"{NAMES[measure]},{unit}" if unit else NAMES[measure]), times


def _ends(mean: MeanOf, times: float) -> str:
    ends = mean.interval
    return "" if ends is None else f" ({times * ends.low:.3g} to {times * ends.high:.3g})"


def share(found: PooledShare | None) -> str:
    """A share with the interval to trust, in per cent."""
    if found is None:
        return "-"
    ends = found.allowing_for_bags or found.exact
    return f"{100.0 * found.value:.1f} % ({100.0 * ends.low:.1f} to {100.0 * ends.high:.1f})"


def control_line(found: OvenControl) -> str:
    """What is said of the control of an oven."""
    name, control = control_name(found), found.control
    sure = f" It is {control.confidence}." if control.follows else ""
    return f"{name}{': ' if name else ''}{control.says}{sure}{settled_by(control)}"


def settled_by(control: Control) -> str:
    """How many more cooks would settle what is not almost certain."""
    if control.more_cooks is None:
        return " More cooks like these would not settle it."
    if not control.more_cooks:
        return ""
    return f" About {control.more_cooks} more, with small, regular and large bags, would probably settle it."


def control_name(found: OvenControl) -> str:
    """What a control is called: its oven and its policy, as far as they have labels."""
    return ", ".join(label for label in (found.oven, found.policy) if label)


def other_rule(rule: OtherRule) -> str:
    """What another rule would have done, in a sentence."""
    said = f"{_RULES[rule.rule]}: in {rule.cooks} cook{'' if rule.cooks == 1 else 's'}"
    if rule.later_s is not None:
        value, ends = rule.later_s.value, rule.later_s.interval
        said += f", {abs(value):.1f} s {'later' if value > 0.0 else 'earlier'}"
        said += "" if ends is None else f" ({ends.low:+.1f} to {ends.high:+.1f} s)"
    return f"{said}; {rule.pops_after:.1f} pops a cook were heard after it"
