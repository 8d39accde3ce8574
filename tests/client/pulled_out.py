"""Simulated cooks through a session whose network is pulled out for a while, on a clock of their own."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import cycle, islice
from typing import Any

import numpy as np

from service.client import CookSession
from tests.client.kitchen import Clock, Cord, NotingContact, Outage, asked, service
from tests.simulation import SimulatedCook, simulate
from tests.simulation.popcorn_kinds import KINDS

OUT_S = 30.0
STEP_S = 0.1
AFTER_S = 5.0
WAYS: tuple[Outage, ...] = ("refused", "hanging", "answers lost")


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One cook and how its network fails."""

    kind: str
    seed: int
    way: Outage


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of it, in seconds on the cook clock.

    Attributes:
        out_from_s: when the cord was pulled.
        stopped_s, stopped_by: when the contact opened, and who opened it.
        deadline_s: the last deadline that had come back from the service before that.
        tries: posts tried while the cord was out.
        unsent: readings that never got through.
        same_evidence: whether the service then knows just what it would know of all readings sent once.
    """

    case: Case
    out_from_s: float
    stopped_s: float
    stopped_by: str | None
    deadline_s: float
    tries: int
    unsent: int
    same_evidence: bool


def cases(count: int) -> list[Case]:
    """So many cooks: the kinds in turn, then other seeds, each with the next way to fail."""
    seeded = ((kind, seed) for seed in range(1, count + 1) for kind in KINDS)
    return [Case(kind=kind, seed=seed, way=way) for (kind, seed), way in zip(islice(seeded, count), cycle(WAYS))]


def outcome(case: Case) -> Outcome:
    """Play the cook of this case."""
    cook = simulate(case.kind, case.seed, network=False)
    out_from_s = float(np.random.default_rng(case.seed).uniform(20.0, cook.truth["stop_window_s"][1]))
    clock, readings = Clock(), list(_in_order(cook))
    began_s = clock()
    cord = Cord(
        transport=service(),
        clock=clock,
        out_from_s=began_s + out_from_s,
        out_until_s=began_s + out_from_s + OUT_S,
        way=case.way,
    )
    contact = NotingContact(clock)
    head = {key: cook.log[0][key] for key in ("program", "setup") if key in cook.log[0]}
    session = CookSession(cord, **head, contact=contact, edge=clock.edge())
    sent, deadline_s = _played(session, cord, readings)
    assert session.deliver(OUT_S) == (session.standing.unsent == 0)
    return Outcome(
        case=case,
        out_from_s=out_from_s,
        stopped_s=contact.opened_s[0] - began_s,
        stopped_by=session.standing.stopped_by,
        deadline_s=deadline_s,
        tries=sum(cord.out_from_s <= at_s < cord.out_until_s for at_s in cord.tries_s),
        unsent=session.standing.unsent,
        same_evidence=_same_evidence(session, head, sent, contact.opened_s[0] - began_s),
    )


def _played(session: CookSession, cord: Cord, readings: list[tuple[float, str, Any]]) -> tuple[int, float]:
    """Play until the cook has stopped and the network is back; all that was read, and the deadline that held."""
    sent, deadline_s, start_s = [], float("nan"), cord.clock()
    while session.goes_on() or cord.clock() < cord.out_until_s + AFTER_S:
        while readings and readings[0][0] <= session.now_s():
            sent.append(readings.pop(0))
            _put(session, *sent[-1])
        if session.goes_on() and cord.answers:
            deadline_s = cord.answers[-1]["stop_by_s"]
        session.poll()
        session.wait(STEP_S)
        assert cord.clock() - start_s < 3600.0
    return sent, deadline_s


def _in_order(cook: SimulatedCook) -> Iterator[tuple[float, str, Any]]:
    read = [
        (reading if isinstance(reading, float | int) else reading["t"], field, reading)
        for post in cook.log
        for field, values in post["readings"].items()
        for reading in values
    ]
    return iter(sorted(read, key=lambda one: one[0]))


def _put(session: CookSession, t_s: float, field: str, reading: Any) -> None:
    if field == "pops":
        session.pop(t_s)
    elif field == "humidity":
        session.humidity(reading["rh_pct"], reading.get("air_c"), t_s)
    else:
        session.power(reading["level"], t_s)


def _same_evidence(session: CookSession, head: dict[str, Any], sent: list[Any], stopped_s: float) -> bool:
    """Whether the state that the session ended with holds all that was read, and nothing else."""
    readings: dict[str, list[Any]] = {"power": [{"t": round(stopped_s, 3), "level": 0.0}]}
    for _, field, reading in sent:
        readings.setdefault(field, []).append(reading)
    answer = session.standing.answer
    assert answer is not None
    as_of = answer.document["as_of"]
    through = asked({"state": answer.state, "as_of": as_of})
    at_once = asked({**head, "as_of": as_of, "readings": readings})
    return bool(through["evidence"] == at_once["evidence"])
