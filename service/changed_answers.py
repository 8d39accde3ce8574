"""Two services on the same logs, or one and what was kept of its answers: where they part, cook by cook."""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from itertools import zip_longest
from typing import Any

from service.replaying import Replayed
from service.web.json_text import NotJson, parsed


class RecordError(ValueError):
    """A record that cannot be read, or belongs to another log; says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortAnswer:
    """What matters of the answer to one line of a log.

    Attributes:
        line: its number in the log.
        verdict: `continue`, `warn` or `stop`, `refused`, or `over` where what was found ended the cook.
        why: the rule that decided; of a line that was refused, in what way it was wrong.
        as_of_s, stop_by_s: the moment, and the deadline from then on (s); None where nothing was decided.
        remaining_s: estimate, low and high (s); None where nothing was foretold.
    """

    line: int
    verdict: str
    why: str | None = None
    as_of_s: float | None = None
    stop_by_s: float | None = None
    remaining_s: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """When a cook was first warned about and first stopped (s), and by which rule; None for never."""

    warn_s: float | None
    stop_s: float | None
    stop_rule: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CookCompared:
    """One cook, before and after.

    Attributes:
        cook: which of the log, from 1.
        answers: lines that were answered.
        before, after: how it went.
        verdicts, rules, deadlines, forecasts: on how many lines the decision differs, the rule that decided, the
            deadline by more than the tolerance, the remaining time by more than that.
        deadline_moved_s, forecast_moved_s: by how much at most (s).
        first: the first two answers that differ, None where none do.
    """

    cook: int
    answers: int
    before: Course
    after: Course
    verdicts: int
    rules: int
    deadlines: int
    forecasts: int
    deadline_moved_s: float
    forecast_moved_s: float
    first: tuple[ShortAnswer, ShortAnswer] | None

    @property
    def changed(self) -> bool:
        """Whether any two answers differ."""
        return self.first is not None


def in_short(answer: Replayed) -> ShortAnswer:
    """What matters of an answer."""
    document = answer.document
    if answer.refused:
        return ShortAnswer(line=answer.line, verdict="refused", why=document.get("type"))
    if "decision" not in document:
        return ShortAnswer(line=answer.line, verdict="over")
    remaining = document["remaining"]
    return ShortAnswer(
        line=answer.line,
        verdict=document["decision"],
        why=document["reasons"][0]["rule"] if document["reasons"] else None,
        as_of_s=document["as_of"],
        stop_by_s=document["stop_by_s"],
        remaining_s=remaining and (remaining["estimate_s"], remaining["low_s"], remaining["high_s"]),
    )


def record_line(one: ShortAnswer) -> str:
    """How an answer is kept: a JSON object on a line."""
    return json.dumps(asdict(one), separators=(",", ":"))


def recorded(lines: Iterable[bytes]) -> Iterator[ShortAnswer]:
    """What was kept. Raises RecordError."""
    for number, line in enumerate(lines, start=1):
        try:
            kept = parsed(line)
            remaining = kept["remaining_s"]
            yield ShortAnswer(**kept | {"remaining_s": remaining if remaining is None else tuple(remaining)})
        except (NotJson, TypeError, KeyError) as error:
            raise RecordError(f"line {number} is no answer that was kept: {error}") from error


def with_programme(lines: Iterable[bytes], programme: str | Mapping[str, Any]) -> Iterator[bytes]:
    """The same log, cooked by another programme: by its name, or whole, as the service tells it."""
    for line in lines:
        try:
            post = parsed(line)
        except NotJson:
            yield line
            continue
        is_first = isinstance(post, dict) and "program" in post
        yield json.dumps(post | {"program": programme}).encode() if is_first else line


def compared(before: Iterable[ShortAnswer], after: Iterable[ShortAnswer], tolerance_s: float) -> Iterator[CookCompared]:
    """The cooks of one log as they end. Raises RecordError where the two do not answer the same lines."""
    cook, pairs = 1, list[tuple[ShortAnswer, ShortAnswer]]()
    for one, other in zip_longest(before, after):
        if one is None or other is None or one.line != other.line:
            raise RecordError("they do not answer the same lines: the record belongs to another log")
        pairs.append((one, other))
        if "over" in (one.verdict, other.verdict):
            yield _cook(cook, pairs, tolerance_s)
            cook, pairs = cook + 1, []
    if pairs:
        yield _cook(cook, pairs, tolerance_s)


def _cook(cook: int, pairs: list[tuple[ShortAnswer, ShortAnswer]], tolerance_s: float) -> CookCompared:
    deadlines = [_moved_s((one.stop_by_s,), (other.stop_by_s,)) for one, other in pairs]
    forecasts = [_moved_s(one.remaining_s, other.remaining_s) for one, other in pairs]
    verdicts = [one.verdict != other.verdict for one, other in pairs]
    rules = [one.why != other.why for one, other in pairs]
    later = [moved is None or moved > tolerance_s for moved in deadlines]
    unlike = [moved is None or moved > tolerance_s for moved in forecasts]
    parted = [pair for pair, *differs in zip(pairs, verdicts, rules, later, unlike, strict=True) if any(differs)]
    return CookCompared(
        cook=cook,
        answers=len(pairs),
        before=_course([one for one, _ in pairs]),
        after=_course([other for _, other in pairs]),
        verdicts=sum(verdicts),
        rules=sum(rules),
        deadlines=sum(later),
        forecasts=sum(unlike),
        deadline_moved_s=max(moved or 0.0 for moved in deadlines),
        forecast_moved_s=max(moved or 0.0 for moved in forecasts),
        first=parted[0] if parted else None,
    )


def _moved_s(before: tuple[float | None, ...] | None, after: tuple[float | None, ...] | None) -> float | None:
    """By how much the numbers differ at most (s); 0 where there are none, None where only one side has some."""
    if not before or not after or None in before or None in after:
        return 0.0 if before == after else None
    return max(
        abs(one - other) for one, other in zip(before, after, strict=True) if one is not None and other is not None
    )


def _course(answers: list[ShortAnswer]) -> Course:
    warn = next((one for one in answers if one.verdict == "warn"), None)
    stop = next((one for one in answers if one.verdict == "stop"), None)
    return Course(
        warn_s=None if warn is None else warn.as_of_s,
        stop_s=None if stop is None else stop.as_of_s,
        stop_rule=None if stop is None else stop.why,
    )
