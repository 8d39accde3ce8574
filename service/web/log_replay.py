"""A log answered line by line, without a server: each line goes on from the last good one."""

from typing import Any

from marshmallow import ValidationError

from schemas.answer import answer_of
from service.outcomes.finished import FinishedCook
from service.outcomes.outcome import Outcome
from service.readings.packing import Packed
from service.rules.decision import Decision
from service.web.conversation import Conversation, Question
from service.web.log_lines import NO_COOK, line_of, told_outcome
from service.web.problems import Refused, wrong_input, wrong_inputs
from service.web.settings import Settings


class LogReplay:
    """One log: what it has come to so far."""

    def __init__(self, conversation: Conversation, settings: Settings) -> None:
        self._conversation = conversation
        self._settings = settings
        self._carried: Packed | None = None
        self._last: Question | None = None

    def answer(self, line: bytes | None, number: int) -> tuple[dict[str, Any], bool]:
        """The answer to a line that is not blank, and whether it was taken; None stands for a line that is too long.

        A decision without its state; what follows from an outcome, which ends the cook; or a problem with the number.
        """
        found, is_taken = self.found(line, number)
        return answer_of(found) if isinstance(found, Decision) else found, is_taken

    def found(self, line: bytes | None, number: int) -> tuple[Decision | dict[str, Any], bool]:
        """The same, but a decision as it is before it is written down."""
        try:
            return self._found(line, number), True
        except ValidationError as error:
            return {**wrong_inputs(error).document(), "line": number}, False
        except Refused as refused:
            return {**refused.document(), "line": number}, False

    def _found(self, line: bytes | None, number: int) -> Decision | dict[str, Any]:
        post = line_of(line, number, self._settings)
        if isinstance(post, Outcome):
            return self._ended(post)
        question = self._conversation.going_on(post, self._carried, None if self._last is None else self._last.own)
        decision = question.decided()
        self._last, self._carried = question, question.carried(decision)
        return decision

    def _ended(self, outcome: Outcome) -> dict[str, Any]:
        if self._last is None:
            raise wrong_input("/outcome", NO_COOK)
        finished = FinishedCook(setup=self._last.setup, cook=self._last.cook, outcome=outcome)
        self._last = self._carried = None
        return told_outcome(finished)
