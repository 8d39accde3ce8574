"""The programmes, listed and told, over HTTP."""

from collections.abc import Callable, Mapping

from flask import Blueprint, Response

from schemas.programme import ProgrammeSchema, ProgrammeSummarySchema
from service.programs.programme import Programme
from service.web.json_text import json_response
from service.web.problems import Refused

_SUMMARIES = ProgrammeSummarySchema(many=True)
_PROGRAMME = ProgrammeSchema()


def programmes(served: Mapping[str, Programme], guard: Callable[[], None]) -> Blueprint:
    """The routes of GET /v1/programs and GET /v1/programs/{name}."""
    blueprint = Blueprint("programmes", __name__)
    blueprint.before_request(guard)

    @blueprint.get("/v1/programs")
    def list_all() -> Response:
        return json_response({"programs": _SUMMARIES.dump(served.values())})

    @blueprint.get("/v1/programs/<name>")
    def tell_one(name: str) -> Response:
        programme = served.get(name)
        if programme is None:
            raise Refused("not-found", f"no programme has this name; there are: {', '.join(served)}")
        return json_response(_PROGRAMME.dump(programme))

    return blueprint
