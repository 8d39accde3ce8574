"""Reading a reply: an answer, a refusal for good, or neither, which is worth another try."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast

from service.client.outbox import LATEST_S
from service.client.transport import Reply
from service.web.json_text import NotJson, parsed

Verdict = Literal["continue", "warn", "stop"]

WRONG_STATE = "/problems/wrong-state"
# Too slow, too soon, too many: the same post may be taken another time.
_PASSING = frozenset({408, 425, 429})


class Refused(Exception):
    """The service will not take this post, however often it is sent.

    Attributes:
        status: the HTTP status, 400 to 499.
        document: the problem document; empty where something else answered.
    """

    def __init__(self, status: int, document: Mapping[str, Any]) -> None:
        super().__init__(f"status {status}: {document.get('detail', 'no problem document came with it')}")
        self.status = status
        self.document = document

    @property
    def is_about_the_state(self) -> bool:
        """Whether the same readings would be taken without the state."""
        return str(self.document.get("type", "")).endswith(WRONG_STATE)


class NotAnswered(Exception):
    """A reply that is no answer, but does not say that the post was wrong; says what it was.

    Attributes:
        retry_after_s: how long the sender is asked to wait (s), None where that was not said.
    """

    def __init__(self, says: str, retry_after_s: float | None) -> None:
        super().__init__(says)
        self.retry_after_s = retry_after_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A decision.

    Attributes:
        decision, stop_by_s, post_again_in_s, state: the fields of these names.
        document: the whole answer.
    """

    decision: Verdict
    stop_by_s: float
    post_again_in_s: float
    state: str
    document: Mapping[str, Any]


def answer_in(reply: Reply) -> Answer:
    """The decision in a reply. Raises Refused or NotAnswered."""
    document = _document(reply.body)
    if 400 <= reply.status < 500 and reply.status not in _PASSING:
        raise Refused(reply.status, document)
    if reply.status != 200:
        raise NotAnswered(f"status {reply.status}", reply.retry_after_s)
    decision, state = document.get("decision"), document.get("state")
    if decision not in ("continue", "warn", "stop") or not isinstance(state, str):
        raise NotAnswered("status 200, but no decision: is this the service?", reply.retry_after_s)
    return Answer(
        decision=cast(Verdict, decision),
        # No cook lasts longer than that: a deadline beyond it would be none.
        stop_by_s=_time_s(document.get("stop_by_s"), LATEST_S),
        post_again_in_s=_time_s(document.get("post_again_in_s")),
        state=state,
        document=document,
    )


def _document(body: bytes) -> dict[str, Any]:
    try:
        document = parsed(body)
    except NotJson:
        return {}
    return document if isinstance(document, dict) else {}


def _time_s(value: object, most_s: float = math.inf) -> float:
    if (
        isinstance(value, bool)
        or not isinstance(value, int | float)
        or not (math.isfinite(value) and 0.0 <= value <= most_s)
    ):
        raise NotAnswered("status 200, but a decision without its times: is this the service?", None)
    return float(value)
