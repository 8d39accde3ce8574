"""One run of wrk against a server on the loopback. It is Debian's: `apt-get install wrk`."""

import json
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

from tests.bench.servers import Server

_SCRIPT = """
wrk.method, wrk.path = "POST", %s
wrk.headers["Content-Type"] = %s
local file = io.open(%s, "rb")
wrk.body = file:read("*a")
file:close()
"""
_UNITS_MS = {"us": 1e-3, "ms": 1.0, "s": 1e3, "m": 6e4}


class NoWrk(Exception):
    """There is no wrk on this machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What to post: a path, a body and its media type."""

    path: str
    sent: bytes
    media_type: str = "application/json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Requests a second, latencies (ms), processor time of the workers a request (us), and answers that were no 200."""

    per_s: float
    p50_ms: float
    p99_ms: float
    busy_us: float
    refused: int


def load(server: Server, asked: Asked, folder: Path, *, seconds: int, connections: int) -> Measured:
    """Post the same again and again for so many seconds over so many connections. Raises NoWrk."""
    wrk = shutil.which("wrk")
    if wrk is None:
        raise NoWrk
    body, script = folder / "body", folder / "post.lua"
    body.write_bytes(asked.sent)
    script.write_text(_SCRIPT % tuple(json.dumps(text) for text in (asked.path, asked.media_type, str(body))))
    before_s = server.busy_s()
    options = ["-t1", f"-c{connections}", f"-d{seconds}", "--latency", "-s", str(script)]
    run = subprocess.run(
        [wrk, *options, f"http://127.0.0.1:{server.port}{asked.path}"], capture_output=True, text=True, check=True
    )
    return _read(run.stdout, server.busy_s() - before_s)


def _read(text: str, busy_s: float) -> Measured:
    answered = int(_found(r"(\d+) requests in", text))
    refused = re.search(r"Non-2xx or 3xx responses: (\d+)", text)
    return Measured(
        per_s=float(_found(r"Requests/sec:\s+([\d.]+)", text)),
        p50_ms=_ms(_found(r"^\s+50%\s+(\S+)\s*$", text)),
        p99_ms=_ms(_found(r"^\s+99%\s+(\S+)\s*$", text)),
        busy_us=1e6 * busy_s / max(answered, 1),
        refused=int(refused.group(1)) if refused else 0,
    )


def _found(pattern: str, text: str) -> str:
    match = re.search(pattern, text, re.MULTILINE)
    if match is None:
        raise ValueError(f"wrk said something else: {text}")
    return match.group(1)


def _ms(text: str) -> float:
    number = text.rstrip("usm")
    return float(number) * _UNITS_MS[text[len(number) :]]
