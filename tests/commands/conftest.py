"""The command as a person runs it: another process, its output, its exit status."""

import subprocess
import sys
from collections.abc import Callable, Iterator

import pytest
import requests

from tests.commands.parted import parted
from tests.commands.running import DEADLINE_S, environment, serving

Cookstop = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="session")
def cookstop() -> Iterator[Cookstop]:
    """Runs the command to its end, in a process that has its imports behind it."""
    with parted() as commands:
        yield lambda *arguments, **environ: commands.run(list(arguments), environment(**environ))


@pytest.fixture(scope="session")
def fresh_cookstop() -> Cookstop:
    """Runs the command to its end, in a process that begins from nothing."""

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
    with serving() as service:
        yield service.url


@pytest.fixture(scope="session")
def get(server: str) -> Callable[[str], requests.Response]:
    return lambda path: requests.get(server + path, timeout=DEADLINE_S)
