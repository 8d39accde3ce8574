"""A kitchen for tests: a clock that runs when told to, a contact that notes when it opened, a cord that can be pulled."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Literal

from service.client import Edge, InProcess, Reply, Transport, Unreachable
from tests.web.clients import client_with

STATE_KEY = "a-key-of-the-tests-that-signs-nothing-else"
Outage = Literal["refused", "hanging", "answers lost"]


@dataclass(slots=True)
class Clock:
    """Seconds that pass only by waiting."""

    now_s: float = 1000.0

    def __call__(self) -> float:
        return self.now_s

    def wait(self, for_s: float) -> None:
        self.now_s += for_s

    def edge(self) -> Edge:
        """The edge of a machine with this clock, on which chance is always in the middle."""
        return Edge(clock=self, wait=self.wait, chance=lambda: 0.5)


@dataclass(slots=True)
class NotingContact:
    """Remembers until when it was to stay closed, and when it was opened."""

    clock: Clock
    until_s: list[float] = field(default_factory=list)
    opened_s: list[float] = field(default_factory=list)

    def keep_until(self, moment_s: float) -> None:
        self.until_s.append(moment_s)

    def open(self) -> None:
        self.opened_s.append(self.clock())


@dataclass(slots=True, kw_only=True)
class Cord:
    """A way to the service that is out for a while.

    Refused posts fail at once, hanging ones take all the time that they are given, and of lost answers the service
    knows nothing: it took the post. `tries_s` and `answers` hold what was tried when, and what came back.
    """

    transport: Transport
    clock: Clock
    out_from_s: float = float("inf")
    out_until_s: float = float("inf")
    way: Outage = "refused"
    tries_s: list[float] = field(default_factory=list)
    answers: list[Mapping[str, Any]] = field(default_factory=list)

    @property
    def is_out(self) -> bool:
        return self.out_from_s <= self.clock() < self.out_until_s

    def post(self, body: bytes, timeout_s: float) -> Reply:
        self.tries_s.append(self.clock())
        if self.is_out:
            if self.way == "answers lost":
                self.transport.post(body, timeout_s)
            if self.way != "refused":
                self.clock.wait(timeout_s)
            raise Unreachable("the cord is out")
        reply = self.transport.post(body, timeout_s)
        self.answers.append(json.loads(reply.body))
        return reply


@dataclass(slots=True)
class Script:
    """A service that says what it was told to say, reply by reply, and keeps what it was sent."""

    replies: list[Reply]
    posts: list[dict[str, Any]] = field(default_factory=list)
    timeouts_s: list[float] = field(default_factory=list)

    def post(self, body: bytes, timeout_s: float) -> Reply:
        self.posts.append(json.loads(body))
        self.timeouts_s.append(timeout_s)
        return self.replies.pop(0) if len(self.replies) > 1 else self.replies[0]


def decision(said: str = "continue", **fields: Any) -> Reply:
    """A decision as the service writes it, cut down to what a client reads."""
    answer = {"decision": said, "stop_by_s": 60.0, "post_again_in_s": 1.0, "state": "s", **fields}
    return Reply(status=200, body=json.dumps(answer).encode())


def problem(status: int, kind: str = "wrong-input", retry_after_s: float | None = None) -> Reply:
    """A problem document of this status."""
    document = {"type": f"/problems/{kind}", "status": status, "detail": "said by the test"}
    return Reply(status=status, body=json.dumps(document).encode(), retry_after_s=retry_after_s)


@cache
def service() -> InProcess:
    """The real service, in this process."""
    return InProcess(client_with(state_keys=(STATE_KEY.encode(),), log_level="error"))


def asked(post: Mapping[str, Any]) -> dict[str, Any]:
    """The real service's answer to one post."""
    reply = service().post(json.dumps(post).encode(), 1.0)
    assert reply.status == 200, reply.body
    answer: dict[str, Any] = json.loads(reply.body)
    return answer
