"""The decision itself, over HTTP."""

from flask import Blueprint, Response

from schemas.answer import AnswerSchema
from schemas.request import DecisionRequestSchema
from service.rules.decide import decide
from service.web.bodies import json_body
from service.web.conversation import Conversation
from service.web.json_text import json_response

_REQUEST = DecisionRequestSchema()
_ANSWER = AnswerSchema()


def decisions(conversation: Conversation) -> Blueprint:
    """The route of POST /v1/decisions."""
    blueprint = Blueprint("decisions", __name__)

    @blueprint.post("/v1/decisions")
    def answer_a_post() -> Response:
        question = conversation.question(_REQUEST.load(json_body()))
        decision = decide(
            programme=question.programme,
            setup=question.setup,
            cook=question.cook,
            as_of_ms=question.as_of_ms,
            settled=question.settled,
            interval_pct=question.interval_pct,
        )
        response = json_response(_ANSWER.dump(decision) | {"state": conversation.state(question, decision)})
        response.headers["Cache-Control"] = "no-store"
        return response

    return blueprint
