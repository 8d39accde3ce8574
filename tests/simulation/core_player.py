"""Play a cook to the core of the service directly: no HTTP, no state token, the cook and what was settled kept in hand."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from service.programs.programme import Programme, shipped
from service.readings.cook import Cook
from service.readings.settled import Settled
from service.rules.decide import decide
from service.rules.decision import Decision, Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class CoreState:
    """What the state token carries, unpacked."""

    programme: Programme
    setup: Setup
    cook: Cook
    settled: Settled | None


def decide_in_core(request: Mapping[str, Any], state: CoreState | None) -> dict[str, Any]:
    """One line of a log to one answer, in the wire's names; `state` is to be handed back with the next line."""
    before = _opened(request) if state is None else state
    cook = before.cook.merged(_cook_of(request["readings"]))
    as_of_ms = round(request["as_of"] * 1000.0)
    decision = decide(
        programme=before.programme, setup=before.setup, cook=cook, as_of_ms=as_of_ms, settled=before.settled
    )
    after = CoreState(programme=before.programme, setup=before.setup, cook=cook, settled=decision.settled)
    return {**_answer(decision), "state": after}


def _opened(request: Mapping[str, Any]) -> CoreState:
    programme = shipped()[request["program"]]
    sensors = request.get("setup", {}).get("sensors")
    said = {key: value for key, value in request.get("setup", {}).items() if key != "sensors"}
    setup = Setup(**said, sensors=None if sensors is None else tuple(sorted(sensors)))
    return CoreState(programme=programme, setup=setup, cook=Cook.of(), settled=None)


def _cook_of(readings: Mapping[str, Any]) -> Cook:
    return Cook.of(
        pops_s=readings.get("pops", ()),
        humidity=[(one["t"], one["rh_pct"], one.get("air_c")) for one in readings.get("humidity", ())],
        power=[(one["t"], one["level"]) for one in readings.get("power", ())],
        restarts_s=readings.get("restarts", ()),
    )


def _answer(decision: Decision) -> dict[str, Any]:
    left = decision.remaining
    remaining = None if left is None else {"estimate_s": left.estimate_s, "low_s": left.low_s, "high_s": left.high_s}
    return {
        "decision": decision.decision,
        "as_of": decision.as_of_s,
        "remaining": remaining,
        "stop_by_s": decision.stop_by_s,
        "reasons": [reason.rule for reason in decision.reasons],
        "evidence": decision.evidence,
    }
