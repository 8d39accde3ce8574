"""What DEVELOPERS.md says to type to run and to measure single parts."""

import sys

import pytest

from tests.commands.running import ROOT
from tests.device.pulled_out import micropython
from tests.documentation.blocks import block
from tests.documentation.conftest import type_in
from tests.page.conftest import CHROMIUM

PARTS = block(".venv/bin/pytest -q tests/").text.splitlines()
NEEDED = {"tests.device": (micropython, "MicroPython"), "tests.page": (lambda: CHROMIUM, "Chromium")}


@pytest.fixture(scope="module")
def project(tmp_path_factory):
    """The project with the environment of these tests, which the second command of the README has made."""
    folder = tmp_path_factory.mktemp("project")
    for entry in ROOT.iterdir():
        if entry.name != ".venv":
            (folder / entry.name).symlink_to(entry)
    (folder / ".venv").symlink_to(sys.prefix)
    return folder


@pytest.mark.parametrize("line", PARTS, ids=lambda line: line.split()[2])
def test_single_parts_run(project, line):
    has, name = NEEDED.get(line.split()[2], (bool, ""))
    if name and not has():
        pytest.skip(f"no {name}")
    said = type_in(project, line)
    assert said.returncode == 0, said.stderr
    assert said.stdout
