"""Every block of code in the pages is run: here, or by the test that is named here."""

import json
import os
import re
import runpy
import shlex
import shutil
import socket
import subprocess
import sys
import tomllib

import numpy as np
import pytest
import requests
from scipy.io import wavfile

from service.client import in_process
from service.replaying import replayed
from tests.commands.running import COOK, DEADLINE_S, ROOT
from tests.documentation.blocks import blocks
from tests.recording.synthesis import Scene, made

BLOCKS = blocks()
TRUTH = json.loads((COOK.parent / "popcorn-truth.json").read_text())
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
ELSEWHERE = {
    "python3 -m venv .venv && .venv/bin/pip install --quiet . &&": "tests/commands/test_demonstrate.py",
    "python3 -m venv .venv && .venv/bin/pip install --quiet --editable": ".ci/run",
    "npx --yes openapi-typescript@": "tests/typescript/test_generated_client.py",
    "units → readings": "tests/test_structure.py",
    "from machine import Pin": "tests/device/test_page.py",
    "import tls": "tests/device/test_page.py",
    "sh curl.sh": "tests/device/test_page.py",
    "cc -std=c11 -O2 -Wall -o cookstop cookstop.c": "tests/device/test_page.py",
    # It asks the package index for everything anew, and is typed by hand; what it made is held against the project.
    "export CUSTOM_COMPILE_COMMAND": "tests/deploy/test_container.py",
}
(REQUEST,) = [block for block in BLOCKS if block.text.startswith("curl -s http://127.0.0.1:8080/v1/decisions")]
HERE = {REQUEST.first_line}


def running(*starts):
    """Marks a test that is given the blocks that start so."""
    HERE.update(starts)
    found = [next(block for block in BLOCKS if block.text.startswith(start)) for start in starts]
    return pytest.mark.parametrize("block", found, ids=lambda block: block.first_line[:40])


@running('{\n  "decision"')
def test_first_request_is_answered_as_the_readme_shows(typed, block):
    if shutil.which("curl") is None:
        pytest.skip("no curl: install Debian's package curl")
    answer = json.loads(typed(REQUEST.text).stdout)
    assert not list(unlike(json.loads(block.text), answer))


def unlike(shown, answer, at=""):
    """Where an answer is not as it is shown; three dots stand for anything."""
    if isinstance(shown, dict):
        for name in shown.keys() - {"..."}:
            yield from unlike(shown[name], answer.get(name), f"{at}/{name}")
    elif isinstance(shown, list):
        for place, one in enumerate(one for one in shown if one != "..."):
            yield from unlike(one, answer[place], f"{at}/{place}")
    elif shown not in ("...", answer):
        yield at, shown, answer


@running('{"outcome"')
def test_outcome_is_taken(block):
    lines = [*COOK.read_bytes().splitlines()[:3], block.text.strip().encode()]
    *_, last = replayed(lines, in_process())
    assert not last.refused
    assert last.document["found"]


@running("from service.client import CookSession")
def test_hub_comes_to_a_stop(typed, folder, port, block):
    lines = [line for line in block.text.splitlines() if line]
    assert len(lines) <= 20
    (folder / "hub.py").write_text(block.text.replace("127.0.0.1:8080", f"127.0.0.1:{port}"))
    said = typed(".venv/bin/python hub.py")
    # On a busy machine an answer may take so long on the faster clock that the deadline comes first.
    assert well_stopped_s(re.fullmatch(r"stopped by the (?:service|deadline) at (\d+) s\n", said.stdout)), said


@running("sh deploy/device/curl.sh", "micropython deploy/device/trial.py", "cc -std=c11 -O2 -Wall -o cook deploy")
def test_small_clients_come_to_a_stop(typed, block):
    said = typed(block.text)
    if "not found" in said.stderr or "curl/curl.h" in said.stderr:
        pytest.skip(f"a program is missing, see tests/device: {said.stderr.splitlines()[0]}")
    told = said.stdout + said.stderr
    # Between two posts of this shorter log it may also be the last deadline that ends it.
    assert re.search(r"stopped by the (service|deadline)|s: (service|deadline)", told), told
    assert well_stopped_s(re.search(r"(\d+)(?:\.\d+)? s: (?:stop|service|deadline)", told)), told


def well_stopped_s(found):
    early_s, late_s = TRUTH["stop_window_s"]
    return found is not None and early_s - 5.0 <= float(found[1]) <= late_s + 15.0


@running("umask 077")
def test_board_reaches_the_service_with_its_key(typed, folder, block):
    *before, serve = block.text.splitlines()
    key = re.search(r"\S{20,}", typed("\n".join(before)).stdout)[0]
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    service = subprocess.Popen(
        ["/bin/sh", "-c", serve.replace("COOKSTOP_KEYS", "exec env COOKSTOP_KEYS", 1) + f" --port {port} --workers 1"],
        cwd=folder,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        while "Listening at" not in (line := service.stderr.readline()):
            assert line, "it ended"
        assert answered(port, {}) == 401
        assert answered(port, {"Authorization": f"Bearer {key}"}) == 200
    finally:
        service.terminate()
        service.communicate(timeout=DEADLINE_S)


def answered(port, headers):
    post = {"program": "popcorn", "as_of": 1}
    url = f"http://127.0.0.1:{port}/v1/decisions"
    return requests.post(url, json=post, headers=headers, timeout=DEADLINE_S).status_code


@running(".venv/bin/cookstop replay")
def test_logs_are_kept_and_compared(typed, block):
    said = typed(block.text)
    assert said.returncode == 0, said.stderr
    assert said.stdout.splitlines()[-1] == "0 of 1 cooks changed"
    assert " stop " in said.stdout


@running("sed '/^.values.gap_s/")
def test_two_programmes_are_compared(typed, block):
    said = typed(f"mkdir kitchen; cp service/demonstration/*.ndjson kitchen/\n{block.text}")
    assert said.returncode == 1, said.stderr
    assert "1 of 1 cooks changed; stops earlier 0, later 1" in said.stdout


@running(".venv/bin/pip install --quiet '.[recording]'")
def test_recording_becomes_a_log(typed, folder, block):
    install, listen = block.text.splitlines()
    assert install.endswith("'.[recording]'")
    sound, pops_s = made(Scene(duration_s=6.0, rate_hz=8_000, pops_per_s=2.0), 1)
    wavfile.write(folder / "cook.wav", 8_000, np.round(sound * 20_000.0).astype(np.int16))
    (folder / "kitchen").mkdir()
    said = typed(listen)
    assert said.returncode == 0, said.stderr
    log = [json.loads(line) for line in (folder / "kitchen" / "cook.ndjson").read_text().splitlines()]
    assert sum(len(post["readings"]["pops"]) for post in log) == pytest.approx(len(pops_s), abs=2)


@running(*(block.text for block in BLOCKS if block.page == "DEVELOPERS.md" and block.language == "sh"))
def test_commands_for_developers_are_there(block, monkeypatch, capsys):
    for line in block.text.splitlines():
        program, *words = shlex.split(line, comments=True)
        if program.endswith("/python"):
            monkeypatch.setattr(sys, "argv", [words[1], "--help"])
            # Another test of this process may have imported it, which is not how a command begins.
            monkeypatch.delitem(sys.modules, f"{words[1]}.__main__", raising=False)
            with pytest.raises(SystemExit, match="0"):
                runpy.run_module(words[1], run_name="__main__", alter_sys=False)
            told = capsys.readouterr().out
            assert all(word in told for word in words if word.startswith("--")), line
        elif program.endswith("/pip"):
            (extras,) = re.findall(r"\.\[([a-z,]+)\]", line)
            assert set(extras.split(",")) <= set(PROJECT["optional-dependencies"]), line
        else:
            assert program in (".venv/bin/pytest", ".venv/bin/cookstop"), line
            assert all((ROOT / word).exists() for word in words if word.startswith("tests/")), line


@running("mkdir -m 700 deploy/secrets")
def test_secrets_are_made(typed, folder, block):
    if os.geteuid() != 0:
        pytest.skip("only root gives files to another user")
    *before, start = block.text.splitlines()
    assert start.startswith("docker compose")
    assert typed("\n".join(before)).returncode == 0
    secrets = folder / "deploy" / "secrets"
    assert {file.name: (file.stat().st_uid, file.stat().st_mode & 0o777) for file in secrets.iterdir()} == {
        "state-keys": (10001, 0o400),
        "keys.ndjson": (10001, 0o400),
    }


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: f"{block.page}: {block.first_line[:50]}")
def test_every_block_is_run_by_a_test(block):
    known = [start for start in (*HERE, *ELSEWHERE) if block.text.startswith(start)]
    assert len(known) == 1, "say in this file which test runs it"
    assert (ROOT / ELSEWHERE.get(known[0], "README.md")).is_file()
