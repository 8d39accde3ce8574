"""The profile of an oven over HTTP: the logs of its cooks in, a profile out."""

from collections.abc import Callable
from typing import Any

from flask import Blueprint, Response

from schemas.calibration import profile_of
from service.calibration.calibrate import calibrate
from service.calibration.trace import CookTrace, cook_trace
from service.programs.programme import Programme
from service.web.bodies import NDJSON, media_type
from service.web.conversation import Conversation
from service.web.cook_logs import CookRead
from service.web.json_text import json_response
from service.web.posted_cooks import posted_cooks
from service.web.problems import Refused, wrong_input
from service.web.settings import Settings


def calibrations(conversation: Conversation, settings: Settings, guard: Callable[[], None]) -> Blueprint:
    """The route of POST /v1/calibrations."""
    blueprint = Blueprint("calibrations", __name__)
    blueprint.before_request(guard)

    @blueprint.post("/v1/calibrations")
    def answer_the_cooks_of_an_oven() -> Response:
        media_type(NDJSON)
        traced = Traced()
        for one in posted_cooks(conversation, settings):
            traced.take(one)
        response = json_response(traced.profile())
        response.headers["Cache-Control"] = "no-store"
        return response

    return blueprint


class Traced:
    """What the cooks of one oven show, each looked at as it comes."""

    def __init__(self) -> None:
        self._traces: list[CookTrace] = []
        self._programme: Programme | None = None
        self._wrong: Refused | None = None

    def take(self, one: CookRead) -> None:
        """Look at a cook; after one that does not belong here at no more."""
        if self._wrong is None:
            self._programme = self._programme or one.programme
            self._wrong = _misfit(one, self._programme)
        if self._wrong is None:
            self._traces.append(cook_trace(one.finished, one.programme))

    def profile(self) -> dict[str, Any]:
        """The profile with what there is to say about it. Raises Refused without cooks, and for one that did not belong."""
        if self._wrong is not None:
            raise self._wrong
        if self._programme is None:
            raise wrong_input("", "expected at least one cook: its posts, and the line of its outcome")
        return profile_of(calibrate(self._traces, self._programme), self._programme.name)


def _misfit(one: CookRead, programme: Programme) -> Refused | None:
    if one.programme is not programme:
        return wrong_input("/program", f"cook from line {one.line} on: expected {programme.name!r} as before it")
    if "acoustic" not in programme.led_by:
        says = "expected a programme that listens, such as popcorn: others show too little of an oven"
        return wrong_input("/program", f"cook from line {one.line} on: {says}")
    return None
