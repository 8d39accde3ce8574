"""The command as a person runs it: another process, its output, its exit status."""

import signal
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator

import pytest
import requests

from tests.commands.running import DEADLINE_S, environment

Cookstop = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="session")
def cookstop() -> Cookstop:
    """Runs the command to its end."""

    def run(*arguments: str, **environ: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "service", *arguments],
            capture_output=True,
            text=True,
            timeout=DEADLINE_S,
            env=environment(**environ),
        )

    return run


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """The URL of a service that `serve` runs on this machine."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "service", "serve", "--port", str(port), "--workers", "2"]
    process = subprocess.Popen(command, env=environment(), stderr=subprocess.PIPE, text=True)
    try:
        # It says on its standard error that it listens; nothing has to be waited for by the clock.
        assert any("Listening at" in line for line in process.stderr)
        yield f"http://127.0.0.1:{port}"
    finally:
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=DEADLINE_S)
    assert process.returncode == 0


@pytest.fixture(scope="session")
def get(server: str) -> Callable[[str], requests.Response]:
    return lambda path: requests.get(server + path, timeout=DEADLINE_S)
