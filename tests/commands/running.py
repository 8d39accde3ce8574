"""Where the command and its cook are, how long to wait for it, and a service that it runs."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO

import requests

from tests.ports import free_port

ROOT = Path(__file__).parents[2]
COOK = Path(str(files("service.demonstration"))) / "popcorn.ndjson"
DEADLINE_S = 60


def environment(**more: str) -> dict[str, str]:
    """The environment in which the command finds the code under test."""
    return {**os.environ, "PYTHONPATH": str(ROOT), **more}


class Serving:
    """A service that `serve` runs on this machine.

    Attributes:
        url: where it is.
        process: its master.
    """

    def __init__(self, url: str, process: subprocess.Popen[bytes], log: IO[bytes]) -> None:
        self.url = url
        self.process = process
        self._log = log

    def said(self) -> str:
        """What it has said on its standard error so far."""
        self._log.seek(0)
        return self._log.read().decode()

    def get(self, path: str) -> requests.Response:
        """What it answers to a GET, on a connection of its own."""
        return requests.get(self.url + path, timeout=DEADLINE_S)

    def post(
        self, path: str, data: bytes | Iterator[bytes], content_type: str = "application/json"
    ) -> requests.Response:
        """What it answers to a POST, on a connection of its own."""
        return requests.post(self.url + path, data=data, headers={"Content-Type": content_type}, timeout=DEADLINE_S)


@contextmanager
def serving(workers: int = 2, **environ: str) -> Iterator[Serving]:
    """A service for as long as the block runs; it must end well."""
    port = free_port()
    command = [sys.executable, "-m", "service", "serve", "--port", str(port), "--workers", str(workers)]
    with TemporaryFile() as log:
        process = subprocess.Popen(command, env=environment(**environ), stderr=log)
        service = Serving(f"http://127.0.0.1:{port}", process, log)
        try:
            _wait_for(service)
            yield service
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(timeout=DEADLINE_S)
        assert process.returncode == 0, service.said()


def _wait_for(service: Serving) -> None:
    """Ask until it answers or has ended."""
    while service.process.poll() is None:
        try:
            service.get("/livez")
        except requests.ConnectionError:
            continue
        return
    raise AssertionError(service.said())
