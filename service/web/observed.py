"""What is noted of a request while it is answered, for its log line, its counters and its headers."""

import os
import re
from dataclasses import dataclass, field
from time import perf_counter
from typing import cast

from flask import g

from service.rules.decision import Decision

_REQUEST_ID = re.compile(r"[A-Za-z0-9._-]{1,64}", re.ASCII)
# version - trace - parent - flags; what a later version appends after a dash is carried unread.
_TRACEPARENT = re.compile(
    r"(?!ff)([0-9a-f]{2})-(?!0{32})[0-9a-f]{32}-(?!0{16})[0-9a-f]{16}-[0-9a-f]{2}(-[!-~]*)?", re.ASCII
)
_LONGEST_TRACEPARENT = 128


@dataclass(slots=True, kw_only=True)
class Observed:
    """The notes about one request.

    Attributes:
        request_id: the client's own, if it is a plain word of up to 64 characters, or a made-up one.
        traceparent: the client's (W3C Trace Context), None where it sent none that is valid.
        caller: the name of the key that was shown.
        decision: what was decided, where something was.
        problem: the slug of the problem that the request was answered with.
        state_failure: why the state was not taken, in one word.
        lines: of a replay: how many lines were decided, and how many were wrong.
        stages: the names of the parts of the work, and when each was over (perf_counter).
    """

    request_id: str
    traceparent: str | None
    begun_s: float
    caller: str | None = None
    decision: Decision | None = None
    problem: str | None = None
    state_failure: str | None = None
    lines: tuple[int, int] | None = None
    stages: list[tuple[str, float]] = field(default_factory=list)

    @staticmethod
    def of(request_id: str, traceparent: str) -> "Observed":
        """The notes about a request with these headers (empty where there is none) that begins now."""
        return Observed(
            request_id=request_id if _REQUEST_ID.fullmatch(request_id) else os.urandom(8).hex(),
            traceparent=traceparent if is_traceparent(traceparent) else None,
            begun_s=perf_counter(),
        )

    def over(self, stage: str) -> None:
        """Note that this part of the work is over."""
        self.stages.append((stage, perf_counter()))

    def server_timing(self, ended_s: float) -> str:
        """The parts of the work in milliseconds, as the Server-Timing header tells them."""
        told, since_s = "", self.begun_s
        for stage, until_s in self.stages:
            told += f"{stage};dur={(until_s - since_s) * 1e3:.3f}, "
            since_s = until_s
        return f"{told}total;dur={(ended_s - self.begun_s) * 1e3:.3f}"


def observed() -> Observed:
    """The notes about the request at hand."""
    return cast(Observed, g.observed)


def is_traceparent(text: str) -> bool:
    """Whether this is a valid traceparent header (W3C Trace Context, section 3.2)."""
    if len(text) > _LONGEST_TRACEPARENT:
        return False
    found = _TRACEPARENT.fullmatch(text)
    return found is not None and not (found[1] == "00" and found[2])
