"""A line of a log: a post without a state, or what was found when the cook was over."""

from dataclasses import asdict
from typing import Any

from schemas.outcome import OutcomeLineSchema, found_of
from schemas.request import DecisionRequest
from service.outcomes.finished import FinishedCook
from service.outcomes.outcome import Outcome
from service.web.decisions import asked, value_of
from service.web.problems import Refused, wrong_input
from service.web.settings import Settings

NO_STATE = "a line of a log carries no state; it follows from the lines before it"
NO_COOK = "an outcome ends a cook, and no line of one came before it"

_OUTCOME_LINE = OutcomeLineSchema()
_SIGN = b'"outcome"'


def line_of(line: bytes | None, number: int, settings: Settings) -> DecisionRequest | Outcome:
    """What a line says; None stands for one that was too long. Raises Refused or ValidationError for a wrong one."""
    if number > settings.max_lines:
        raise Refused("too-many-lines", f"expected {settings.max_lines} lines at most")
    if line is None:
        raise Refused("line-too-long", f"expected {settings.max_line_bytes} bytes at most in a line")
    found = outcome_in(line, settings)
    if found is not None:
        return found
    post = asked(line, settings)
    if post.state is not None:
        raise wrong_input("/state", NO_STATE)
    return post


def outcome_in(line: bytes, settings: Settings) -> Outcome | None:
    """The outcome, if the line is one. Raises as `line_of`."""
    if _SIGN not in line:
        return None
    return outcome_said(value_of(line, settings))


def outcome_said(value: Any) -> Outcome | None:
    """The outcome that the JSON value of a line says, if it does. Raises ValidationError."""
    if not isinstance(value, dict) or "outcome" not in value:
        return None
    outcome: Outcome = _OUTCOME_LINE.taken(value)
    return outcome


def told_outcome(finished: FinishedCook) -> dict[str, Any]:
    """The answer to the line of an outcome: itself, and what follows from it."""
    said = {name: value for name, value in asdict(finished.outcome).items() if value is not None}
    return {"outcome": said, "found": found_of(finished)}
