"""Cooks compared, as the lines of a table."""

from collections.abc import Sequence

from service.changed_answers import CookCompared, Course, ShortAnswer

HEADING = f"{'cook':<36}  {'answers':>7}  {'before':<32}  {'after':<32}  what changed"


def row(log: str, cook: CookCompared) -> str:
    """One cook on one line, under HEADING."""
    name = log if cook.cook == 1 else f"{log} ({cook.cook})"
    after = _end(cook.after) if cook.changed else "the same"
    line = f"{name:<36}  {cook.answers:>7}  {_end(cook.before):<32}  {after:<32}  {'; '.join(_changes(cook))}"
    return line.rstrip()


def summary(cooks: Sequence[CookCompared]) -> str:
    """How many changed, and which way their stops went."""
    changed = sum(cook.changed for cook in cooks)
    moved_s = [moved for cook in cooks if (moved := _stop_moved_s(cook))]
    text = f"{changed} of {len(cooks)} cooks changed"
    if moved_s:
        text += f"; stops earlier {sum(one < 0.0 for one in moved_s)}, later {sum(one > 0.0 for one in moved_s)}"
        text += f", by {max(map(abs, moved_s)):g} s at most"
    lost = sum((cook.before.stop_s is None) != (cook.after.stop_s is None) for cook in cooks)
    return text + (f"; stops gained or lost {lost}" if lost else "")


def _changes(cook: CookCompared) -> list[str]:
    counted = (
        (cook.verdicts, "decision", None),
        (cook.rules, "rule", None),
        (cook.deadlines, "deadline", cook.deadline_moved_s),
        (cook.forecasts, "forecast", cook.forecast_moved_s),
    )
    said = [
        f"{what} on {count}" + (f" by up to {moved_s:.1f} s" if moved_s else "")
        for count, what, moved_s in counted
        if count
    ]
    if moved_s := _stop_moved_s(cook):
        said.insert(0, f"stop {moved_s:+g} s")
    if cook.first is not None:
        one, other = cook.first
        unlike = "" if (one.verdict, one.why) == (other.verdict, other.why) else f": {_words(one)} -> {_words(other)}"
        said.append(f"first on line {one.line}{unlike}")
    return said


def _words(one: ShortAnswer) -> str:
    return one.verdict if one.why is None else f"{one.verdict}, {one.why}"


def _stop_moved_s(cook: CookCompared) -> float | None:
    before_s, after_s = cook.before.stop_s, cook.after.stop_s
    return None if before_s is None or after_s is None else round(after_s - before_s, 3)


def _end(course: Course) -> str:
    if course.stop_s is None:
        return "no stop" if course.warn_s is None else f"no stop, warned at {course.warn_s:g} s"
    return f"stop {course.stop_s:g} s, {course.stop_rule}"
