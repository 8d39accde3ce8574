"""A log played again over HTTP: a decision a line, as the lines come, in memory that does not grow with the log."""

from collections.abc import Callable, Iterator

from flask import Blueprint, Response, stream_with_context

from service.web.bodies import NDJSON, lines, media_type
from service.web.conversation import Conversation
from service.web.json_text import written
from service.web.log_replay import LogReplay
from service.web.long_requests import still_here
from service.web.observed import observed
from service.web.problems import Refused
from service.web.settings import Settings


def replays(conversation: Conversation, settings: Settings, guard: Callable[[], None]) -> Blueprint:
    """The route of POST /v1/replays."""
    blueprint = Blueprint("replays", __name__)
    blueprint.before_request(guard)

    @blueprint.post("/v1/replays")
    def answer_a_log() -> Response:
        media_type(NDJSON)
        answers = stream_with_context(_answers(LogReplay(conversation, settings), settings))
        return Response(answers, content_type=NDJSON, headers={"Cache-Control": "no-store"})

    return blueprint


def _answers(log: LogReplay, settings: Settings) -> Iterator[str]:
    """The answer to each line that is not blank, as the lines come."""
    seen, tell = observed(), still_here()
    coming = lines(settings.max_line_bytes)
    decided = wrong = 0
    for number in range(1, settings.max_lines + 2):
        try:
            line = next(coming)
        except StopIteration:
            return
        except Refused as refused:
            yield written({**refused.document(), "line": number}) + "\n"
            seen.lines = (decided, wrong + 1)
            return
        tell()
        if line is None or line.strip():
            answer, is_taken = log.answer(line, number)
            decided, wrong = (decided + 1, wrong) if is_taken else (decided, wrong + 1)
            seen.lines = (decided, wrong)
            yield written(answer) + "\n"
