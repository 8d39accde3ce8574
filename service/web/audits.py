"""A set of finished cooks audited over HTTP: all of them in one log, one audit in return."""

from collections.abc import Callable

from flask import Blueprint, Response, request
from marshmallow import ValidationError

from schemas.strict import Number, received
from service.web.bodies import NDJSON, media_type
from service.web.conversation import Conversation
from service.web.json_text import json_response
from service.web.posted_cooks import posted_cooks
from service.web.problems import LONGEST_NAME, wrong_input
from service.web.settings import Settings

_INTERVAL_PCT = Number(50.0, 99.9, "%")
_MOST_NUMBER = 20


def audits(conversation: Conversation, settings: Settings, guard: Callable[[], None]) -> Blueprint:
    """The route of POST /v1/audits."""
    blueprint = Blueprint("audits", __name__)
    blueprint.before_request(guard)

    @blueprint.post("/v1/audits")
    def answer_a_set() -> Response:
        # What audits is loaded by the first who asks for it: decisions start without it.
        from schemas.audit import audit_of
        from service.audit.audit import audit, audit_cook

        media_type(NDJSON)
        level = _level()
        audited = [audit_cook(one.finished, one.programme) for one in posted_cooks(conversation, settings)]
        response = json_response(audit_of(audit(audited, level)))
        response.headers["Cache-Control"] = "no-store"
        return response

    return blueprint


def _level() -> float | None:
    """How much probability the intervals shall hold, where the query says so."""
    for name, values in request.args.lists():
        if name != "interval_pct":
            raise wrong_input(f"/{name[:LONGEST_NAME]}", "expected no query but interval_pct")
        if len(values) > 1:
            raise wrong_input("/interval_pct", "this was said more than once")
    said = request.args.get("interval_pct")
    if said is None:
        return None
    try:
        return _INTERVAL_PCT.taken(float(said[:_MOST_NUMBER])) / 100.0
    except (ValueError, ValidationError) as error:
        wrong = f"expected {_INTERVAL_PCT.expected}; received {received(said)}"
        raise wrong_input("/interval_pct", wrong) from error
