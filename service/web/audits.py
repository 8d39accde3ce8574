"""A set of finished cooks audited over HTTP: all of them in one log, one audit in return."""

from collections.abc import Callable

from flask import Blueprint, Response, request
from marshmallow import ValidationError

from schemas.audit import audit_of
from schemas.strict import Number
from service.audit.audit import AuditedCook, audit, audit_cook
from service.web.bodies import NDJSON, lines, media_type
from service.web.conversation import Conversation
from service.web.cook_logs import WrongLine, cooks_of
from service.web.json_text import json_response
from service.web.problems import LONGEST_NAME, Refused, wrong_input
from service.web.replays import STILL_HERE
from service.web.settings import Settings

_INTERVAL_PCT = Number(50.0, 99.9, "%")
_MOST_NUMBER = 20


def audits(conversation: Conversation, settings: Settings, guard: Callable[[], None]) -> Blueprint:
    """The route of POST /v1/audits."""
    blueprint = Blueprint("audits", __name__)
    blueprint.before_request(guard)

    @blueprint.post("/v1/audits")
    def answer_a_set() -> Response:
        media_type(NDJSON)
        level = _level()
        response = json_response(audit_of(audit(_audited(conversation, settings), level)))
        response.headers["Cache-Control"] = "no-store"
        return response

    return blueprint


def _audited(conversation: Conversation, settings: Settings) -> list[AuditedCook]:
    """Every cook of the body, looked at by itself. Raises Refused for the first wrong line, once the body is read."""
    still_here = request.environ.get(STILL_HERE, _nobody)
    wrong: Refused | None = None
    audited: list[AuditedCook] = []
    for one in cooks_of(lines(settings.max_line_bytes), conversation, settings):
        still_here()
        if wrong is not None:
            continue
        if isinstance(one, WrongLine):
            wrong = Refused(one.refused.kind.slug, f"line {one.line}: {one.refused.detail}", one.refused.errors)
        elif len(audited) == settings.max_cooks:
            wrong = Refused("too-many-cooks", f"expected {settings.max_cooks} cooks at most")
        else:
            audited.append(audit_cook(one.finished, one.programme))
    if wrong is not None:
        raise wrong
    return audited


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
        raise wrong_input("/interval_pct", f"expected {_INTERVAL_PCT.expected}") from error


def _nobody() -> None:
    """Where no worker waits to hear from a long request."""
