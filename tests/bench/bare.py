"""Applications to hold the service against: a bare Flask route, one that reads the same JSON, and one that does not think."""

from flask import Flask, Response, request

from schemas.answer import answer_of
from service.programs.programme import shipped
from service.web.application import create_app
from service.web.bodies import whole_body
from service.web.conversation import Conversation
from service.web.decisions import asked
from service.web.json_text import json_response
from service.web.settings import Settings
from service.web.tokens import Tokens
from tests.bench.histories import AS_OF_S, history
from tests.cooks import ask


def bare() -> Flask:
    """A route that answers two bytes and reads nothing."""
    app = Flask(__name__, static_folder=None)

    @app.post("/v1/decisions")
    def answer() -> Response:
        return Response("{}", content_type="application/json")

    return app


def reading() -> Flask:
    """A route that parses the body as JSON, and answers two bytes."""
    app = Flask(__name__, static_folder=None)

    @app.post("/v1/decisions")
    def answer() -> Response:
        request.get_json()
        return Response("{}", content_type="application/json")

    return app


def unthinking() -> Flask:
    """The service, but that every post is answered with one decision: JSON, validation, token and answer are all there."""
    settings = Settings.from_environment()
    app = create_app(settings)
    tokens = Tokens(settings.state_keys, purpose="cook state", longest=settings.max_state_characters)
    conversation = Conversation(tokens, shipped(), settings)
    decision = ask(history(400).cook(), AS_OF_S - 1.0)

    def answer() -> Response:
        question = conversation.question(asked(whole_body(settings.max_body_bytes), settings))
        return json_response({**answer_of(decision), "state": conversation.state(question, decision)})

    app.view_functions["decisions.answer_a_post"] = answer
    return app
