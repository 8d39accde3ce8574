"""The decision itself, over HTTP."""

from collections.abc import Callable
from typing import Any

from flask import Blueprint, Response, request

from schemas.answer import answer_of
from schemas.request import DecisionRequest, DecisionRequestSchema
from schemas.senml_request import SAID, request_of
from service.web.bodies import JSON, SENML, media_type, whole_body
from service.web.conversation import Conversation
from service.web.json_text import NotJson, json_response, parsed
from service.web.observed import observed
from service.web.problems import LONGEST_NAME, Refused, wrong_input
from service.web.settings import Settings

_REQUEST = DecisionRequestSchema()


def decisions(conversation: Conversation, settings: Settings, guard: Callable[[], None]) -> Blueprint:
    """The route of POST /v1/decisions."""
    blueprint = Blueprint("decisions", __name__)
    blueprint.before_request(guard)

    @blueprint.post("/v1/decisions")
    def answer_a_post() -> Response:
        seen = observed()
        read = _asked_in_json if media_type(JSON, SENML) == JSON else _asked_in_senml
        question = conversation.question(read(whole_body(settings.max_body_bytes), settings))
        seen.over("read")
        decision = question.decided()
        seen.over("decide")
        response = json_response({**answer_of(decision), "state": conversation.state(question, decision)})
        response.headers.add("Cache-Control", "no-store")
        seen.decision = decision
        seen.over("write")
        return response

    return blueprint


def asked(text: bytes, settings: Settings) -> DecisionRequest:
    """The post that this text is. Raises Refused for no JSON, ValidationError for a wrong post."""
    post: DecisionRequest = _REQUEST.taken(value_of(text, settings))
    return post


def _asked_in_json(text: bytes, settings: Settings) -> DecisionRequest:
    """The same, of a request whose query says nothing that belongs into the body, where it would be passed over."""
    if request.environ.get("QUERY_STRING"):
        for name in SAID:
            if name in request.args:
                raise wrong_input(f"/{name}", f"with {JSON} this is said in the body; received it in the query")
    return asked(text, settings)


def _asked_in_senml(text: bytes, settings: Settings) -> DecisionRequest:
    """The post that this SenML pack is, together with the query of the request at hand. Raises as `asked`."""
    said = {}
    for name, values in request.args.lists():
        if name not in SAID:
            raise wrong_input(f"/{name[:LONGEST_NAME]}", f"expected a query out of {', '.join(SAID)}")
        if len(values) > 1:
            raise wrong_input(f"/{name}", "this was said more than once")
        said[name] = values[0]
    return request_of(value_of(text, settings), said, lambda part: _parsed(part.encode(), settings))


def value_of(text: bytes, settings: Settings) -> Any:
    """The JSON value that this text is. Raises Refused for no JSON."""
    try:
        return _parsed(text, settings)
    except NotJson as error:
        raise Refused("not-json", str(error)) from error


def _parsed(text: bytes, settings: Settings) -> Any:
    return parsed(text, deepest=settings.max_nesting, longest_number=settings.max_number_characters)
