"""What is counted, and GET /metrics in the text format of Prometheus.

Every label has a bounded set of values: routes, codes of rules and slugs of problems, all of them written in the code.
Under several processes each writes its numbers to a file of a shared folder, which PROMETHEUS_MULTIPROC_DIR names
before this module is imported, and whichever of them is asked adds them up.
"""

import os
from collections.abc import Callable
from typing import Any

from flask import Blueprint, Response
from prometheus_client import CONTENT_TYPE_PLAIN_0_0_4, CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector

from service.rules.decision import Decision

FOLDER = "PROMETHEUS_MULTIPROC_DIR"
METHODS = frozenset({"GET", "HEAD", "POST", "OPTIONS", "PUT", "PATCH", "DELETE"})
# Around a decision, which takes a few milliseconds, up to the timeout of a worker.
_SECONDS = (0.0005, 0.001, 0.002, 0.003, 0.005, 0.0075, 0.01, 0.02, 0.05, 0.1, 0.25, 1.0, 10.0)
_SENSORS = ("acoustic", "moisture")


class Metrics:
    """The counters of one application."""

    NAME = "cookstop-metrics"
    """Under which name an application keeps them among its extensions."""

    def __init__(self) -> None:
        self._registry = CollectorRegistry()
        self._children: dict[tuple[str, ...], Any] = {}
        counter = self._counter
        self._requests = Histogram(
            "cookstop_request_duration_seconds",
            "Time to answer a request, by method, route and status.",
            ("method", "route", "status"),
            registry=self._registry,
            buckets=_SECONDS,
        )
        self._decisions = counter("decisions", "Decisions, by outcome and the rule that decided.", "decision", "rule")
        self._problems = counter("problems", "Requests that were answered with a problem, by its type.", "type")
        self._sensors = counter("sensor_status", "Decisions, by what a sensor was found to be.", "sensor", "status")
        self._states = counter("state_failures", "States that were not taken, by the reason.", "kind")
        self._lines = counter("replayed_lines", "Lines of replays, by what became of them.", "outcome")

    def answered(self, method: str, route: str, status: int, took_s: float) -> None:
        """Count a request that was answered."""
        known = method if method in METHODS else "other"
        self._child(self._requests, known, route, str(status)).observe(took_s)

    def decided(self, decision: Decision) -> None:
        """Count a decision."""
        self._child(self._decisions, decision.decision, decision.reasons[0].rule).inc()
        for sensor in _SENSORS:
            self._child(self._sensors, sensor, str(decision.evidence[sensor]["status"])).inc()

    def refused(self, problem: str, state_failure: str | None) -> None:
        """Count a problem, and what was wrong with the state if it was that."""
        self._child(self._problems, problem).inc()
        if state_failure is not None:
            self._child(self._states, state_failure).inc()

    def replayed(self, decided: int, wrong: int) -> None:
        """Count the lines of a replay."""
        self._child(self._lines, "decided").inc(decided)
        self._child(self._lines, "wrong").inc(wrong)

    def text(self) -> bytes:
        """All the numbers of all the processes."""
        if FOLDER not in os.environ:
            return generate_latest(self._registry)
        registry = CollectorRegistry()
        MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
        return generate_latest(registry)

    def _counter(self, name: str, says: str, *labels: str) -> Counter:
        return Counter(f"cookstop_{name}", says, labels, registry=self._registry)

    def _child(self, metric: Any, *labels: str) -> Any:
        """The series of these labels, found in one step."""
        key = (metric._name, *labels)
        child = self._children.get(key)
        if child is None:
            child = self._children[key] = metric.labels(*labels)
        return child


def metrics_page(metrics: Metrics, guard: Callable[[], None]) -> Blueprint:
    """The route of GET /metrics."""
    blueprint = Blueprint("metrics", __name__)
    blueprint.before_request(guard)

    @blueprint.get("/metrics")
    def tell() -> Response:
        return Response(metrics.text(), content_type=CONTENT_TYPE_PLAIN_0_0_4)

    return blueprint
