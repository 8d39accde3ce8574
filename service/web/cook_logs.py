"""Finished cooks out of a log of many.

A cook begins with a line that carries `program`. It ends with the line of its outcome, which may be empty,
`{"outcome": {}}`; or, where nobody looked, before a line that carries `program` and asks about an earlier moment, or
where the log ends.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from marshmallow import ValidationError

from schemas.request import DecisionRequest
from schemas.setup import setup_text
from service.outcomes.finished import FinishedCook
from service.outcomes.outcome import Outcome
from service.programs.programme import Programme
from service.readings.packing import Packed
from service.readings.settled import Settled
from service.web.conversation import Conversation, Question
from service.web.log_lines import NO_COOK, line_of
from service.web.problems import Refused, wrong_input, wrong_inputs
from service.web.settings import Settings

NOTHING_FOUND = Outcome()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CookRead:
    """A cook of a log: the number of its first line, its programme, and the cook with what was found."""

    line: int
    programme: Programme
    finished: FinishedCook


@dataclass(frozen=True, slots=True, kw_only=True)
class WrongLine:
    """A line that was not taken, its number, and why; the cook goes on without it."""

    line: int
    refused: Refused


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Begun:
    """A cook that is not over: the number of its first line, and the last question about it."""

    line: int
    question: Question

    def carried(self) -> Packed:
        settled = Settled(as_of_ms=self.question.as_of_ms, stop_ms=None, stop_rule=None, nudge_ms=None)
        return Packed(
            programme=self.question.bound_to,
            setup_json=setup_text(self.question.setup).encode(),
            settled=settled,
            cook=self.question.cook,
        )

    def over(self, outcome: Outcome) -> CookRead:
        finished = FinishedCook(setup=self.question.setup, cook=self.question.cook, outcome=outcome)
        return CookRead(line=self.line, programme=self.question.programme, finished=finished)


def cooks_of(
    lines: Iterable[bytes | None], conversation: Conversation, settings: Settings
) -> Iterator[CookRead | WrongLine]:
    """The cooks of a log as they end, and its wrong lines as they come; None stands for a line that is too long."""
    begun: _Begun | None = None
    for number, line in enumerate(lines, start=1):
        if line is not None and not line.strip():
            continue
        try:
            said = line_of(line, number, settings)
            if isinstance(said, Outcome):
                if begun is None:
                    raise wrong_input("/outcome", NO_COOK)
                yield begun.over(said)
                begun = None
                continue
            if begun is not None and _begins_another(said, begun):
                yield begun.over(NOTHING_FOUND)
                begun = None
            question = (
                conversation.going_on(said, None)
                if begun is None
                else conversation.going_on(said, begun.carried(), begun.question.own)
            )
            begun = _Begun(line=number if begun is None else begun.line, question=question)
        except Refused as refused:
            yield WrongLine(line=number, refused=refused)
        except ValidationError as error:
            yield WrongLine(line=number, refused=wrong_inputs(error))
        if number > settings.max_lines:
            return
    if begun is not None:
        yield begun.over(NOTHING_FOUND)


def _begins_another(post: DecisionRequest, begun: _Begun) -> bool:
    return post.program is not None and post.as_of_ms is not None and post.as_of_ms < begun.question.as_of_ms
