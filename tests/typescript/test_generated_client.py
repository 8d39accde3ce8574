"""A client that a public generator makes of /openapi.json, type-checked, cooks a bag with the real service.

The generator comes from npm, at the versions of package-lock.json, and is put into build/typescript.
"""

import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.commands.running import COOK, DEADLINE_S, ROOT
from tests.device.serving import served
from tests.documentation.blocks import block

HERE = Path(__file__).parent
MADE = ROOT / "build" / "typescript"
SOURCES = ("package.json", "package-lock.json", "tsconfig.json", "cook.ts")
NO_REGISTRY = (
    "ENOTFOUND",
    "EAI_AGAIN",
    "ECONNREFUSED",
    "ECONNRESET",
    "ETIMEDOUT",
    "ENETUNREACH",
    "ENOTCACHED",
    "network",
)
TRUTH = json.loads((COOK.parent / "popcorn-truth.json").read_text())


@pytest.fixture(scope="module")
def node() -> str:
    """Node, with the generator and the compiler at hand in MADE."""
    found, npm = shutil.which("node"), shutil.which("npm")
    if found is None or npm is None:
        pytest.skip("no node and npm: install Debian's packages nodejs and npm")
    MADE.mkdir(parents=True, exist_ok=True)
    is_there = (MADE / "node_modules" / ".whole").exists() and _text(MADE) == _text(HERE)
    for name in SOURCES:
        shutil.copy(HERE / name, MADE / name)
    if not is_there:
        _install(npm)
    return found


@pytest.fixture(scope="module")
def url() -> Iterator[str]:
    with served() as port:
        yield f"http://127.0.0.1:{port}"


def _text(folder: Path) -> str:
    return (folder / "package-lock.json").read_text()


def _install(npm: str) -> None:
    command = [npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund", "--prefer-offline", "--fetch-retries=1"]
    try:
        ended = subprocess.run(command, cwd=MADE, capture_output=True, text=True, timeout=DEADLINE_S)
    except subprocess.TimeoutExpired:
        pytest.skip(f"npm did not bring the generator within {DEADLINE_S} s")
    if ended.returncode and any(sign in ended.stderr for sign in NO_REGISTRY):
        pytest.skip(f"the npm registry cannot be reached: {ended.stderr.splitlines()[0]}")
    assert ended.returncode == 0, ended.stderr
    (MADE / "node_modules" / ".whole").touch()


def run(*command: str, given: str = "") -> str:
    ended = subprocess.run(command, cwd=MADE, input=given, capture_output=True, text=True, timeout=DEADLINE_S)
    assert ended.returncode == 0, ended.stdout + ended.stderr
    return ended.stdout


@pytest.fixture(scope="module")
def client(node: str, url: str) -> str:
    """The compiled client, made as the README says; what the document does not promise does not compile.

    `npx` finds the generator that it names in MADE, at this version.
    """
    run("/bin/sh", "-c", block("npx ").text.replace("http://127.0.0.1:8080", url))
    run(node, "node_modules/typescript/bin/tsc")
    return str(MADE / "made" / "cook.js")


def test_generated_client_cooks_a_whole_bag(node: str, url: str, client: str) -> None:
    posts = COOK.read_text().splitlines()
    *said, refused = map(json.loads, run(node, client, url, given="\n".join(posts)).splitlines())
    assert [one["at"] for one in said] == [json.loads(post)["as_of"] for post in posts[: len(said)]]
    assert {one["decision"] for one in said[:-1]} == {"continue", "warn"}
    early_s, late_s = TRUTH["stop_window_s"]
    assert said[-1]["decision"] == "stop"
    assert early_s - 5.0 <= said[-1]["at"] <= late_s + 5.0
    assert any(one["remaining"] is not None and one["kernels"] is not None for one in said)
    assert refused == {"refused": 422, "at": "/as_of"}


def test_request_and_answer_have_types_of_their_own(client: str) -> None:
    """Where a generator cannot make sense of a schema it writes `unknown`, and anything would compile."""
    types = (MADE / "cookstop.ts").read_text()
    for name in ("DecisionRequest", "Setup", "Readings", "Decision", "Problem"):
        begins, ends = re.search(rf"^        {name}: (.*)$(?:.|\n)*?^        (}}.*)$", types, re.MULTILINE).groups()
        assert (begins, ends) == ("{", "};")
