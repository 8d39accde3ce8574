"""A log played again over HTTP: a decision a line, as the lines come, in memory that does not grow with the log."""

from collections.abc import Callable, Iterator
from typing import Any

from flask import Blueprint, Response, request, stream_with_context
from marshmallow import ValidationError

from schemas.answer import answer_of
from service.outcomes.finished import FinishedCook
from service.outcomes.outcome import Outcome
from service.readings.packing import Packed
from service.web.bodies import NDJSON, lines, media_type
from service.web.conversation import Conversation, Question
from service.web.json_text import written
from service.web.log_lines import NO_COOK, line_of, told_outcome
from service.web.observed import observed
from service.web.problems import Refused, wrong_input, wrong_inputs
from service.web.settings import Settings

STILL_HERE = "cookstop.still_here"
"""Where a worker leaves in the environment of a request what tells its master that it works on a long one."""


def replays(conversation: Conversation, settings: Settings, guard: Callable[[], None]) -> Blueprint:
    """The route of POST /v1/replays."""
    blueprint = Blueprint("replays", __name__)
    blueprint.before_request(guard)

    @blueprint.post("/v1/replays")
    def answer_a_log() -> Response:
        media_type(NDJSON)
        answers = stream_with_context(Replay(conversation, settings).answers())
        return Response(answers, content_type=NDJSON, headers={"Cache-Control": "no-store"})

    return blueprint


class Replay:
    """One log: what it has come to so far."""

    def __init__(self, conversation: Conversation, settings: Settings) -> None:
        self._conversation = conversation
        self._settings = settings
        self._carried: Packed | None = None
        self._last: Question | None = None

    def answers(self) -> Iterator[str]:
        """The answer to each line that is not blank: its decision, or a problem document that gives the line."""
        seen, still_here = observed(), request.environ.get(STILL_HERE, _nobody)
        coming = lines(self._settings.max_line_bytes)
        decided = wrong = 0
        for number in range(1, self._settings.max_lines + 2):
            try:
                line = next(coming)
                still_here()
                if line is None or line.strip():
                    yield written(self._decided(line, number)) + "\n"
                    decided += 1
            except StopIteration:
                return
            except ValidationError as error:
                yield _told(wrong_inputs(error), number)
                wrong += 1
            except Refused as refused:
                yield _told(refused, number)
                wrong += 1
            seen.lines = (decided, wrong)

    def _decided(self, line: bytes | None, number: int) -> dict[str, Any]:
        """The answer to a post that goes on from the last good line, or to the outcome of a cook, which ends it.

        Raises Refused or ValidationError.
        """
        post = line_of(line, number, self._settings)
        if isinstance(post, Outcome):
            return self._ended(post)
        question = self._conversation.going_on(post, self._carried, None if self._last is None else self._last.own)
        decision = question.decided()
        self._last, self._carried = question, question.carried(decision)
        return answer_of(decision)

    def _ended(self, outcome: Outcome) -> dict[str, Any]:
        if self._last is None:
            raise wrong_input("/outcome", NO_COOK)
        finished = FinishedCook(setup=self._last.setup, cook=self._last.cook, outcome=outcome)
        self._last = self._carried = None
        return told_outcome(finished)


def _told(refused: Refused, number: int) -> str:
    return written({**refused.document(), "line": number}) + "\n"


def _nobody() -> None:
    """Where no worker waits to hear from a long request."""
