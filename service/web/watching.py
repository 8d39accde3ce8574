"""Watching over every request: its identity, its headers, its counters, its line in the log."""

from functools import partial
from time import perf_counter

from flask import Flask, Response, g, request
from flask.globals import request_ctx

from service.web.logs import Lines
from service.web.metrics import Metrics
from service.web.observed import Observed, observed

NO_ROUTE = "unmatched"


def watch(app: Flask, metrics: Metrics, lines: Lines) -> None:
    """Make the application note, tell and count every request."""

    def end(response: Response) -> Response:
        asked, seen = request_ctx.request, observed()
        response.headers.add("X-Request-Id", seen.request_id)
        response.headers.add("Server-Timing", seen.server_timing(perf_counter()))
        if seen.traceparent is not None:
            response.headers.add("traceparent", seen.traceparent)
        rule = asked.url_rule
        conclude = partial(_conclude, metrics, lines, seen, asked.method, rule.rule if rule else NO_ROUTE)
        if response.is_streamed:
            response.call_on_close(partial(conclude, response.status_code))
        else:
            conclude(response.status_code)
        return response

    app.before_request(_begin)
    app.after_request(end)


def _begin() -> None:
    environ = request.environ
    g.observed = Observed.of(environ.get("HTTP_X_REQUEST_ID", ""), environ.get("HTTP_TRACEPARENT", ""))


def _conclude(metrics: Metrics, lines: Lines, seen: Observed, method: str, route: str, status: int) -> None:
    """Count and log a request whose answer is complete."""
    took_s = perf_counter() - seen.begun_s
    metrics.answered(method, route, status, took_s)
    if seen.problem is not None:
        metrics.refused(seen.problem, seen.state_failure)
    if seen.decision is not None:
        metrics.decided(seen.decision)
    if seen.lines is not None:
        metrics.replayed(*seen.lines)
    lines.write(
        "info" if status < 500 else "error",
        request_id=seen.request_id,
        traceparent=seen.traceparent,
        caller=seen.caller,
        method=method,
        route=route,
        status=status,
        ms=round(took_s * 1e3, 3),
        decision=seen.decision and seen.decision.decision,
        rule=seen.decision and seen.decision.reasons[0].rule,
        problem=seen.problem,
        lines=seen.lines and sum(seen.lines),
    )
