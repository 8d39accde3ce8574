"""What the page on wiring says to type."""

import re
import shutil
import subprocess

import pytest

from tests.commands.running import DEADLINE_S
from tests.device.pulled_out import DEVICE
from tests.device.test_curl import thinned

PAGE = (DEVICE / "README.md").read_text()


def blocks(language):
    """The blocks of a language, wherever they are indented."""
    return re.findall(rf"^ *```{language}\n(.*?)^ *```", PAGE, re.DOTALL | re.MULTILINE)


@pytest.fixture
def folder(tmp_path):
    """A copy of the folder, with a shorter log where the page looks for one."""
    copy = shutil.copytree(DEVICE, tmp_path / "deploy" / "device")
    log = tmp_path / "service" / "demonstration" / "popcorn.ndjson"
    log.parent.mkdir(parents=True)
    log.write_text("".join(thinned(10)))
    return copy


def typed(block, folder, port):
    return subprocess.run(
        [shutil.which("sh"), "-c", block.replace("http://127.0.0.1:8080", f"http://127.0.0.1:{port}")],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=DEADLINE_S,
    )


def test_conversation_can_be_typed(folder, port, curl):
    said = typed(blocks("sh")[0], folder, port)
    assert said.stdout.splitlines()[-1] == "stopped by the service", said.stderr


def test_program_can_be_made_and_tried(folder, port):
    said = typed(blocks("sh")[1], folder, port)
    if "curl/curl.h" in said.stderr or "cc: not found" in said.stderr:
        pytest.skip("nothing to compile with: install Debian's packages gcc and libcurl4-openssl-dev")
    assert "contact open" in said.stderr, said.stderr
    assert '"decision":"continue"' in said.stdout


@pytest.mark.parametrize("block", blocks("python"), ids=["relay", "encryption"])
def test_lines_for_the_device_are_python_that_uses_what_there_is(block):
    lines = block.splitlines()
    indent = len(lines[0]) - len(lines[0].lstrip())
    text = "\n".join(line[indent:] for line in lines)
    compile(text, "the page", "exec")
    client = (DEVICE / "cookstop.py").read_text()
    used = set(re.findall(r"\b(?:cook|cookstop)\.(\w+)", text)) | set(
        re.findall(r"\b(\w+)=", text.partition("cookstop.")[2])
    )
    ours = used - {"mode", "period", "callback", "cadata", "server_hostname"}
    assert ours
    assert {name for name in ours if not re.search(rf"\b{name}\b", client)} == set()


def test_page_says_what_stays_in_charge():
    assert "It is no safety device" in PAGE
    assert "interlock" in PAGE
    assert "never starts heating" in PAGE
