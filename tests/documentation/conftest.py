"""A checkout as a new user has it before them, with what the first command of the README installs, and a service."""

import fcntl
import os
import shlex
import shutil
import subprocess
import sys
import sysconfig
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import requests

from tests.commands.running import DEADLINE_S, ROOT
from tests.device.pulled_out import micropython
from tests.documentation.blocks import block
from tests.ports import free_port

Typed = Callable[[str], subprocess.CompletedProcess[str]]
FIRST = block("python3 -m venv .venv && .venv/bin/pip install --quiet . &&").text.split(" && ")
RECORDING = block(".venv/bin/pip install --quiet '.[recording]'").text.splitlines()
# What the README types to install, line by line; what is done with it is typed by the tests.
INSTALLING = (*FIRST[:-1], RECORDING[0])
NOT_FETCHED = shutil.ignore_patterns(
    ".git", ".venv", "build", "secrets", "tls", "__pycache__", "*.egg-info", ".*_cache", ".hypothesis"
)
# On a machine that is busy with other tests.
TYPED_S = 300.0
NO_INDEX = ("No matching distribution", "Could not find a version", "Connection", "Temporary failure")


@pytest.fixture(scope="session")
def checkout(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Path:
    """All of the project in a folder of its own, where what the README installs was installed, once for all tests."""
    shared = tmp_path_factory.getbasetemp()
    shared = shared if worker_id == "master" else shared.parent
    place = shared / "checkout"
    with (shared / "checkout.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not place.exists():
            shutil.copytree(ROOT, place, ignore=NOT_FETCHED)
            said = type_in(place, "\n".join(INSTALLING))
            (place / "said").write_text(said.stderr if said.returncode else "")
    told = (place / "said").read_text()
    if any(sign in told for sign in NO_INDEX):
        pytest.skip(f"the package index cannot be reached: {told.splitlines()[-1]}")
    assert not told
    return place


def type_in(folder: Path, text: str, **environ: str) -> subprocess.CompletedProcess[str]:
    """Types lines into a shell in a folder."""
    return subprocess.run(
        ["/bin/sh", "-e", "-c", text],
        cwd=folder,
        env=environment(folder) | environ,
        capture_output=True,
        text=True,
        timeout=TYPED_S,
    )


def environment(folder: Path) -> dict[str, str]:
    """Of somebody who is at home in this folder, and nowhere else.

    `python3` is the Python of these tests, and finds the packages that are installed for it: pip has little to fetch.
    """
    programs = folder / ".programs"
    program(programs / "python3", f"exec {shlex.quote(sys.executable)}")
    if interpreter := micropython():
        program(programs / "micropython", f"exec {shlex.quote(interpreter)}")
    own = {"HOME": str(folder), "PATH": f"{programs}:{os.environ['PATH']}", "PYTHONPATH": sysconfig.get_path("purelib")}
    return {**os.environ, **own}


def program(path: Path, line: str) -> None:
    """A program that goes on as the line says, with its own arguments behind it."""
    path.parent.mkdir(exist_ok=True)
    path.write_text(f'#!/bin/sh\n{line} "$@"\n')
    path.chmod(0o755)


@pytest.fixture(scope="session")
def port(checkout: Path) -> Iterator[int]:
    """Where the service answers that was started as the README says, but for its port."""
    free = free_port()
    command = [*shlex.split(".venv/bin/cookstop serve"), "--port", str(free), "--workers", "1"]
    service = subprocess.Popen(command, cwd=checkout, env=environment(checkout) | {"COOKSTOP_LOG_LEVEL": "error"})
    try:
        until_s = time.monotonic() + DEADLINE_S
        while service.poll() is None and time.monotonic() < until_s:
            try:
                requests.get(f"http://127.0.0.1:{free}/livez", timeout=DEADLINE_S)
            except requests.ConnectionError:
                continue
            break
        yield free
    finally:
        service.terminate()
        service.wait(DEADLINE_S)


@pytest.fixture
def folder(tmp_path: Path, checkout: Path) -> Path:
    """The checkout for one test alone."""
    own = tmp_path / "cookstop"
    shutil.copytree(checkout, own, ignore=shutil.ignore_patterns(".venv", ".programs", "tests"))
    (own / ".venv").symlink_to(checkout / ".venv")
    return own


@pytest.fixture
def typed(folder: Path, port: int) -> Typed:
    """Types lines into a shell in the checkout, the service being at another port than the pages say."""

    def run(text: str) -> subprocess.CompletedProcess[str]:
        return type_in(folder, text.replace("127.0.0.1:8080", f"127.0.0.1:{port}").replace(" 8080 ", f" {port} "))

    return run
