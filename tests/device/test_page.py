"""What the page on wiring says to type."""

import re
import shutil
import ssl
import subprocess
import textwrap

import pytest

from tests.commands.running import DEADLINE_S
from tests.device.listening import reply, saying
from tests.device.pulled_out import DEVICE
from tests.device.test_curl import thinned
from tests.device.test_micropython import DECISION

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


MACHINE = """
class Pin:
    OUT = 1

    def __init__(self, number, mode, value):
        self.value(value)

    def value(self, to):
        print("relay", "on" if to else "off")

    def on(self):
        self.value(1)

    def off(self):
        self.value(0)


class Timer:
    ONE_SHOT = 0

    def __init__(self, number):
        pass

    def init(self, mode, period, callback):
        print("armed for", round(period, -3) // 1000)


class WDT:
    def __init__(self, timeout):
        print("watched for", timeout)

    def feed(self):
        pass
"""
"""What a board has, on one that has none."""


def run(interpreter, text, folder, **names):
    (folder / "machine.py").write_text(MACHINE)
    given = "".join(f"{name} = {value!r}\n" for name, value in names.items())
    code = f"import sys\nsys.path[:0] = {[str(DEVICE), str(folder)]!r}\n{given}{text}"
    ended = subprocess.run([interpreter, "-c", code], capture_output=True, text=True, timeout=DEADLINE_S)
    return ended.stdout + ended.stderr


def the_lines(at):
    return textwrap.dedent(blocks("python")[at])


def test_relay_is_held_and_let_go(interpreter, tmp_path):
    answers = [
        reply("200 OK", DECISION % (verdict, stop_by_s))
        for verdict, stop_by_s in ((b"continue", b"90"), (b"stop", b"1"))
    ]
    with saying(*answers) as (port, asked):
        lines = the_lines(0).replace('"192.168.1.20", 8080', f'"127.0.0.1", {port}')
        told = run(interpreter, "def new_pops():\n    return [5]\n" + lines, tmp_path)
    assert told.splitlines()[:5] == ["relay off", "watched for 8000", "armed for 30", "relay on", "armed for 90"], told
    assert set(told.splitlines()[5:]) == {"relay off"}
    assert b'"pops":[' in asked[0]


@pytest.fixture
def certificate(tmp_path):
    """Of a server of this name, signed by itself: the files of its key and its text."""
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("no openssl: install Debian's package openssl")
    key, text = tmp_path / "key.pem", tmp_path / "certificate.pem"
    subprocess.run(
        [openssl, "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-days", "2",
         "-keyout", str(key), "-out", str(text), "-subj", "/CN=hub.lan", "-addext", "subjectAltName=DNS:hub.lan"],
        check=True, capture_output=True, timeout=DEADLINE_S,
    )  # fmt: skip
    return key, text


@pytest.mark.parametrize("name", ["hub.lan", "other.lan"])
def test_encrypted_answer_is_taken_from_the_server_of_that_name_alone(interpreter, tmp_path, certificate, name):
    key, text = certificate
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(text, key)
    lines = the_lines(1).replace('"hub.lan", 8443', '"127.0.0.1", PORT').replace('="hub.lan"', f'="{name}"')
    cook = "import cookstop\n" + lines + "cook = cookstop.Cook(service, lambda: None)\nprint(cook.poll(), cook.rule)\n"
    with saying(reply("200 OK", DECISION % (b"warn", b"60")), within=context) as (port, asked):
        der = ssl.PEM_cert_to_DER_cert(text.read_text())
        told = run(interpreter, cook, tmp_path, PORT=port, certificate=der, key="secret")
    assert told.split() == (["warn", "popping"] if name == "hub.lan" else ["continue", "None"]), told
    assert bool(asked) == (name == "hub.lan")


def test_page_says_what_stays_in_charge():
    assert "It is no safety device" in PAGE
    assert "interlock" in PAGE
    assert "never starts heating" in PAGE
