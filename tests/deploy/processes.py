"""The service as its own processes on a port of this machine, started, killed and counted."""

import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory, TemporaryFile
from time import monotonic
from typing import IO

from tests.ports import LOOPBACK, free_port

ROOT = Path(__file__).parents[2]
START_S = 40.0
# COOKSTOP_GRACEFUL_TIMEOUT_S unless said otherwise. Its file is not imported for it: that wipes and makes folders.
GRACEFUL_TIMEOUT_S = 10
STEP_S = 0.02
# Of no worth anywhere: what one server signs, its neighbour of the same test must be able to read.
STATE_KEY = "a-key-of-the-tests-that-signs-nothing-else"


@dataclass(slots=True, kw_only=True)
class Server:
    """A gunicorn master with its workers. It has to be stopped or killed."""

    port: int
    process: subprocess.Popen[bytes]
    log: IO[bytes]
    metrics: TemporaryDirectory[str]
    said: str = ""

    def worker_ids(self) -> list[int]:
        """Process ids of the workers that live now."""
        return children(self.process.pid)

    def computed_s(self) -> float:
        """Processor seconds that its workers have used."""
        ticks = 0
        for process_id in self.worker_ids():
            after_name = Path(f"/proc/{process_id}/stat").read_text().rpartition(")")[2].split()
            ticks += int(after_name[11]) + int(after_name[12])
        return ticks / os.sysconf("SC_CLK_TCK")

    def stop(self) -> int:
        """Ask it to stop, as an orchestrator would, and wait for that; its exit status."""
        self.process.send_signal(signal.SIGTERM)
        return self._ended()

    def kill(self) -> None:
        """Kill the master and all its workers at once, without a word, as a lost machine would go."""
        for process_id in (self.process.pid, *self.worker_ids()):
            kill(process_id)
        self._ended()

    def _ended(self) -> int:
        status = self.process.wait(START_S)
        self.log.seek(0)
        self.said = self.log.read().decode()
        self.log.close()
        # One that was killed could not clear up behind itself.
        self.metrics.cleanup()
        return status


def start(port: int, *, workers: int = 2, **environ: str) -> Server:
    """Start a server; it may not answer yet."""
    command = [sys.executable, "-m", "gunicorn", "-c", "python:service.web.gunicorn_settings"]
    metrics = TemporaryDirectory(prefix="metrics-")
    said = {"COOKSTOP_BIND": f"{LOOPBACK}:{port}", "COOKSTOP_WORKERS": str(workers)}
    environ = {**said, "COOKSTOP_METRICS_FOLDER": metrics.name, **environ}
    log = TemporaryFile()  # noqa: SIM115 (it is read as long as the server lives)
    process = subprocess.Popen(command, env=environment(**environ), stderr=log, stdout=log, cwd="/")
    return Server(port=port, process=process, log=log, metrics=metrics)


@contextmanager
def serving(*, workers: int = 2, **environ: str) -> Iterator[Server]:
    """A server that answers, stopped at the end. Raises AssertionError when it does not come to answer."""
    server = start(free_port(), workers=workers, **environ)
    try:
        wait_for(server)
        yield server
    finally:
        if not server.log.closed:
            server.stop()


def wait_for(server: Server) -> None:
    """Wait until a server that was started answers. Raises AssertionError with what it said when it does not."""
    if not until(lambda: answers(server.port) or server.process.poll() is not None, START_S) or server.process.poll():
        server.kill()
        raise AssertionError(server.said)


def environment(**more: str) -> dict[str, str]:
    """The environment in which a server finds the code under test and none of this machine's own settings."""
    inherited = {name: value for name, value in os.environ.items() if not name.startswith("COOKSTOP_")}
    return {**inherited, "PYTHONPATH": str(ROOT), "COOKSTOP_STATE_KEYS": STATE_KEY, **more}


def answers(port: int) -> bool:
    """Whether somebody takes connections at this port."""
    try:
        socket.create_connection((LOOPBACK, port), timeout=1.0).close()
    except OSError:
        return False
    return True


def until(condition: Callable[[], bool], deadline_s: float) -> bool:
    """Wait for a condition; whether it came to hold in time."""
    pause, end_s = threading.Event(), monotonic() + deadline_s
    while not condition():
        if monotonic() > end_s:
            return False
        pause.wait(STEP_S)
    return True


def children(process_id: int) -> list[int]:
    """Process ids of the children of a process; none when it is gone."""
    try:
        return [int(one) for one in Path(f"/proc/{process_id}/task/{process_id}/children").read_text().split()]
    except OSError:
        return []


def kill(process_id: int) -> None:
    """Kill a process that may have ended by itself already."""
    try:
        os.kill(process_id, signal.SIGKILL)
    except ProcessLookupError:
        return
