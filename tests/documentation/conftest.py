"""A copy of the project as a new user has it before them, and a service for what the pages ask it."""

import os
import shlex
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.commands.running import DEADLINE_S, ROOT
from tests.device.pulled_out import micropython
from tests.device.serving import served
from tests.device.test_curl import thinned

Typed = Callable[[str], subprocess.CompletedProcess[str]]


@pytest.fixture(scope="module")
def port() -> Iterator[int]:
    """Where the service answers."""
    with served() as at:
        yield at


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The project, with what the first command of the README installs, and with a shorter log."""
    shutil.copytree(ROOT / "deploy", tmp_path / "deploy", ignore=shutil.ignore_patterns("secrets", "tls"))
    shutil.copytree(ROOT / "service" / "programs", tmp_path / "service" / "programs")
    log = tmp_path / "service" / "demonstration" / "popcorn.ndjson"
    log.parent.mkdir()
    log.write_text("".join(thinned(8)))
    python = f"PYTHONPATH={shlex.quote(str(ROOT))} exec {shlex.quote(sys.executable)}"
    _program(tmp_path / ".venv" / "bin" / "cookstop", f"{python} -m service")
    _program(tmp_path / ".venv" / "bin" / "python", python)
    if interpreter := micropython():
        _program(tmp_path / ".venv" / "bin" / "micropython", f"exec {shlex.quote(interpreter)}")
    return tmp_path


def _program(path: Path, line: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f'#!/bin/sh\n{line} "$@"\n')
    path.chmod(0o755)


@pytest.fixture
def typed(folder: Path, port: int) -> Typed:
    """Types lines into a shell in the project, the service being at another port than the pages say."""

    def run(text: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["/bin/sh", "-e", "-c", text.replace("127.0.0.1:8080", f"127.0.0.1:{port}").replace(" 8080 ", f" {port} ")],
            cwd=folder,
            env={**os.environ, "PATH": f"{folder / '.venv' / 'bin'}:{os.environ['PATH']}"},
            capture_output=True,
            text=True,
            timeout=DEADLINE_S,
        )

    return run
