"""The profile of an oven over HTTP: the logs of its cooks in, a profile out."""

from collections.abc import Callable

from flask import Blueprint, Response

from service.web.bodies import NDJSON, media_type
from service.web.conversation import Conversation
from service.web.json_text import json_response
from service.web.posted_cooks import posted_cooks
from service.web.settings import Settings


def calibrations(conversation: Conversation, settings: Settings, guard: Callable[[], None]) -> Blueprint:
    """The route of POST /v1/calibrations."""
    blueprint = Blueprint("calibrations", __name__)
    blueprint.before_request(guard)

    @blueprint.post("/v1/calibrations")
    def answer_the_cooks_of_an_oven() -> Response:
        # What fits a profile is loaded by the first who asks for one: decisions start without it.
        from service.web.traced import Traced

        media_type(NDJSON)
        traced = Traced()
        for one in posted_cooks(conversation, settings):
            traced.take(one)
        response = json_response(traced.profile())
        response.headers["Cache-Control"] = "no-store"
        return response

    return blueprint
