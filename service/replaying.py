"""A log played again: the posts of a cook, a line each, in the order in which they were sent, and what was found after it."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from marshmallow import ValidationError

from schemas.strict import received
from service.client import Ask
from service.outcomes.finished import FinishedCook
from service.outcomes.outcome import Outcome
from service.readings.cook import EMPTY
from service.readings.setup import Setup
from service.web.json_text import NotJson, parsed
from service.web.log_lines import NO_COOK, NO_STATE, outcome_said, told_outcome
from service.web.problems import Refused, wrong_input, wrong_inputs


@dataclass(frozen=True, slots=True, kw_only=True)
class Replayed:
    """The answer to one line: a decision without its state, what follows from an outcome, or a problem that gives the line."""

    line: int
    document: Mapping[str, Any]
    refused: bool


def replayed(lines: Iterable[bytes], ask: Ask) -> Iterator[Replayed]:
    """Ask about each line that is not blank, handing the state on from answer to answer; an outcome ends the cook.

    A line that is wrong is answered in its place, and what comes after it goes on from the last good line.
    Raises NoAnswer when the service cannot be asked.
    """
    state: dict[str, Any] = {}
    load_g: float | None = None
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            post = _post(line)
            if isinstance(post, Outcome):
                document, state = _ended(post, load_g, bool(state)), {}
                yield Replayed(line=number, document=document, refused=False)
                continue
            answer = ask(state | post)
        except Refused as refused:
            yield Replayed(line=number, document=refused.document() | {"line": number}, refused=True)
            continue
        document = dict(answer.document)
        if answer.refused:
            document["line"] = number
        else:
            load_g = load_g if state else post.get("setup", {}).get("load_g")
            program = post.get("program", state.get("program"))
            # A state does not carry a programme of the caller's own, only what it is bound to.
            state = {"state": document.pop("state")} | ({"program": program} if isinstance(program, dict) else {})
        yield Replayed(line=number, document=document, refused=answer.refused)


def _ended(outcome: Outcome, load_g: float | None, is_begun: bool) -> dict[str, Any]:
    if not is_begun:
        raise wrong_input("/outcome", NO_COOK)
    return told_outcome(FinishedCook(setup=Setup(load_g=load_g), cook=EMPTY, outcome=outcome))


def _post(line: bytes) -> dict[str, Any] | Outcome:
    try:
        post = parsed(line)
        outcome = outcome_said(post)
    except NotJson as error:
        raise Refused("not-json", str(error)) from error
    except ValidationError as error:
        raise wrong_inputs(error) from error
    if outcome is not None:
        return outcome
    if not isinstance(post, dict):
        raise wrong_input("", f"expected an object; received {received(post)}")
    if "state" in post:
        raise wrong_input("/state", NO_STATE)
    return post
