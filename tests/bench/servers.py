"""A gunicorn server on the loopback, with the settings of the service, and what it costs: processor time and memory."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http.client import HTTPConnection
from pathlib import Path
from time import monotonic, perf_counter, sleep

from tests.bench.wsgi import KEY
from tests.ports import free_port

SERVICE, UNTHINKING = "service.app:create_app()", "tests.bench.bare:unthinking()"
_TICKS = os.sysconf("SC_CLK_TCK")
_PATIENCE_S = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Server:
    """A server that answers.

    Attributes:
        port: on 127.0.0.1.
        master: process id of the one that was started.
        started_s: from its start to its first answer.
    """

    port: int
    master: int
    started_s: float

    def workers(self) -> list[int]:
        """Process ids of the workers."""
        return [int(one) for one in Path(f"/proc/{self.master}/task/{self.master}/children").read_text().split()]

    def busy_s(self) -> float:
        """Processor time of all workers so far."""
        return sum(_busy_s(worker) for worker in self.workers())

    def memory_mb(self) -> tuple[float, float]:
        """Of a worker, the mean: its share of all memory, and what it has to itself (MB)."""
        rolls = [Path(f"/proc/{worker}/smaps_rollup").read_text() for worker in self.workers()]
        shared = sum(_kb(roll, "Pss:") for roll in rolls)
        own = sum(_kb(roll, "Private_Clean:") + _kb(roll, "Private_Dirty:") for roll in rolls)
        return shared / len(rolls) / 1000.0, own / len(rolls) / 1000.0


@contextmanager
def served(application: str, first: bytes, workers: int) -> Iterator[Server]:
    """A server of this application, stopped at the end. `first` is the post that it must answer to have started."""
    port = free_port()
    environ = os.environ | {
        "COOKSTOP_BIND": f"127.0.0.1:{port}",
        "COOKSTOP_WORKERS": str(workers),
        "COOKSTOP_STATE_KEYS": KEY.decode(),
        "COOKSTOP_LOG_LEVEL": "error",
    }
    if application not in (SERVICE, UNTHINKING):
        # The worker of the service tells its own application about itself, and no other has ears for it.
        environ["COOKSTOP_WORKER_CLASS"] = "sync"
    began_s = perf_counter()
    command = [sys.executable, "-m", "gunicorn", "-c", "python:service.web.gunicorn_settings", application]
    process = subprocess.Popen(command, env=environ)
    try:
        _await_answer(process, port, first)
        yield Server(port=port, master=process.pid, started_s=perf_counter() - began_s)
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=_PATIENCE_S)


def post(port: int, path: str, sent: bytes, media_type: str = "application/json") -> bytes:
    """The body of the answer to one post. Raises OSError where nobody listens, ValueError for any status but 200."""
    connection = HTTPConnection("127.0.0.1", port, timeout=_PATIENCE_S)
    try:
        connection.request("POST", path, body=sent, headers={"Content-Type": media_type})
        answer = connection.getresponse()
        text = answer.read()
    finally:
        connection.close()
    if answer.status != 200:
        raise ValueError(f"{path}: {answer.status} {text[:300]!r}")
    return text


def _await_answer(process: subprocess.Popen[bytes], port: int, first: bytes) -> None:
    deadline_s = monotonic() + _PATIENCE_S
    while True:
        try:
            post(port, "/v1/decisions", first)
        except OSError:
            if process.poll() is not None or monotonic() > deadline_s:
                raise
            sleep(0.002)
        else:
            return


def _busy_s(process: int) -> float:
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / _TICKS


def _kb(roll: str, name: str) -> float:
    return next(float(line.split()[1]) for line in roll.splitlines() if line.startswith(name))
