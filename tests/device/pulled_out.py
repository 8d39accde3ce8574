"""Simulated cooks through the device's client under MicroPython, whose network is pulled out for a while."""

import json
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tests.client.kitchen import asked
from tests.client.pulled_out import AFTER_S, OUT_S, Case
from tests.commands.running import DEADLINE_S, ROOT
from tests.simulation import SimulatedCook, simulate

HEAP = "64k"
DEVICE = ROOT / "deploy" / "device"
HERE = Path(__file__).parent


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of one cook: times in seconds on the cook clock; see tests/client/pulled_out.py."""

    case: Case
    out_from_s: float
    stopped_s: float
    stopped_by: str
    deadline_s: float
    armed: int
    tries: int
    unsent: int
    least_free_bytes: int
    same_evidence: bool


def micropython() -> str | None:
    """The interpreter, where this machine or tests/device/fetch_micropython.sh has one."""
    fetched = ROOT / "build" / "micropython" / "micropython"
    return shutil.which("micropython") or (str(fetched) if fetched.exists() else None)


def outcome(case: Case, port: int, interpreter: str, *, out_s: float = OUT_S) -> Outcome:
    """Play the cook of this case against the service at this port. `out_s` 0 leaves the network alone."""
    cook = simulate(case.kind, case.seed, network=False)
    out_from_s = float(np.random.default_rng(case.seed).uniform(20.0, cook.truth["stop_window_s"][1]))
    readings = sorted(_timed(cook), key=lambda one: one["t_ms"])
    head = {key: cook.log[0][key] for key in ("program", "setup") if key in cook.log[0]}
    with tempfile.NamedTemporaryFile("w", suffix=".ndjson") as log:
        log.write("".join(json.dumps(reading) + "\n" for reading in readings))
        log.flush()
        said = _played(
            interpreter,
            {
                "port": port,
                "key": "a-key-of-the-tests",
                "setup": head.get("setup"),
                "log": log.name,
                "way": case.way,
                "out_from_ms": round(out_from_s * 1000.0),
                "out_until_ms": round((out_from_s + out_s) * 1000.0),
                "until_ms": round((out_from_s + out_s + AFTER_S) * 1000.0),
            },
        )
    return Outcome(
        case=case,
        out_from_s=out_from_s,
        stopped_s=said["stopped_ms"] / 1000.0,
        stopped_by=said["stopped_by"],
        deadline_s=said["deadline_ms"] / 1000.0,
        armed=said["armed"],
        tries=said["tries"],
        unsent=said["unsent"],
        least_free_bytes=said["least_free_bytes"],
        same_evidence=_same_evidence(said, head, readings),
    )


def _played(interpreter: str, arguments: dict[str, Any]) -> dict[str, Any]:
    code = (
        f"import sys; sys.path[:0] = {[str(DEVICE), str(HERE)]}; import cookstop; import play; play.main({arguments})"
    )
    ended = subprocess.run(
        [interpreter, "-X", f"heapsize={HEAP}", "-c", code], capture_output=True, text=True, timeout=DEADLINE_S
    )
    assert ended.returncode == 0, ended.stdout + ended.stderr
    said: dict[str, Any] = json.loads(ended.stdout)
    return said


def _timed(cook: SimulatedCook) -> list[dict[str, Any]]:
    """The readings with their times in milliseconds."""
    timed = []
    for post in cook.log:
        for values in post["readings"].values():
            for value in values:
                t_s = value["t"] if isinstance(value, dict) else value
                rest = {key: part for key, part in value.items() if key != "t"} if isinstance(value, dict) else {}
                timed.append({"t_ms": round(t_s * 1000.0), **rest})
    return timed


def _same_evidence(said: dict[str, Any], head: dict[str, Any], timed: list[dict[str, Any]]) -> bool:
    """Whether the state that the device ended with holds all that was read, and nothing else."""
    readings: dict[str, list[Any]] = {
        "pops": [],
        "humidity": [],
        "power": [{"t": said["stopped_ms"] / 1000.0, "level": 0.0}],
    }
    for one in (one for one in timed if one["t_ms"] <= said["asked_ms"]):
        rest = {key: part for key, part in one.items() if key != "t_ms"}
        t_s = one["t_ms"] / 1000.0
        kind = "humidity" if "rh_pct" in one else "power" if "level" in one else "pops"
        readings[kind].append({"t": t_s, **rest} if rest else t_s)
    as_of = said["asked_ms"] / 1000.0
    through = asked({"state": said["state"], "as_of": as_of})
    at_once = asked({**head, "as_of": as_of, "readings": readings})
    return bool(through["evidence"] == at_once["evidence"])
