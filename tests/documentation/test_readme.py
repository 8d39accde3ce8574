"""What the README says to type, from nothing to a first stop of each kind of user."""

import json
import re
import shutil
import subprocess

import numpy as np
import pytest
import requests
from scipy.io import wavfile

from service.client import in_process
from service.replaying import replayed
from tests.commands.running import COOK, DEADLINE_S
from tests.device.pulled_out import micropython
from tests.device.test_curl import thinned
from tests.documentation.blocks import block
from tests.documentation.conftest import FIRST, RECORDING, environment, type_in
from tests.ports import free_port
from tests.recording.synthesis import Scene, made

TRUTH = json.loads((COOK.parent / "popcorn-truth.json").read_text())


def test_first_command_shows_a_cook(checkout):
    """Its other steps were typed when the checkout was made."""
    said = type_in(checkout, FIRST[-1])
    assert said.returncode == 0, said.stderr
    assert "inside that window" in said.stdout


def test_first_request_is_answered_as_shown(typed):
    if shutil.which("curl") is None:
        pytest.skip("no curl: install Debian's package curl")
    answer = json.loads(typed(block("curl -s http://127.0.0.1:8080/v1/decisions").text).stdout)
    assert not list(unlike(json.loads(block('{\n  "decision"').text), answer))


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


def test_outcome_is_taken():
    lines = [*COOK.read_bytes().splitlines()[:3], block('{"outcome"').text.strip().encode()]
    *_, last = replayed(lines, in_process())
    assert not last.refused
    assert last.document["found"]


def test_hub_comes_to_a_stop(typed, folder, port):
    text = block("from service.client import CookSession").text
    assert len([line for line in text.splitlines() if line]) <= 20
    (folder / "hub.py").write_text(text.replace("127.0.0.1:8080", f"127.0.0.1:{port}"))
    said = typed(".venv/bin/python hub.py")
    # On a busy machine an answer may take so long on the faster clock that the deadline comes first.
    assert well_stopped_s(re.fullmatch(r"stopped by the (?:service|deadline) at (\d+) s\n", said.stdout)), said


@pytest.mark.parametrize(
    "start", ["sh deploy/device/curl.sh", "micropython deploy/device/trial.py", "cc -std=c11 -O2 -Wall -o cook deploy"]
)
def test_small_clients_come_to_a_stop(typed, folder, start):
    # A post every eight seconds, which a processor that is shared with other tests can bear.
    (folder / "service" / "demonstration" / "popcorn.ndjson").write_text("".join(thinned(8)))
    said = typed(block(start).text)
    if "not found" in said.stderr or "curl/curl.h" in said.stderr:
        pytest.skip(f"a program is missing, see tests/device: {said.stderr.splitlines()[0]}")
    told = said.stdout + said.stderr
    # Between two posts of this shorter log it may also be the last deadline that ends it.
    assert re.search(r"stopped by the (service|deadline)|s: (service|deadline)", told), told
    assert well_stopped_s(re.search(r"(\d+)(?:\.\d+)? s: (?:stop|service|deadline)", told)), told


def well_stopped_s(found):
    early_s, late_s = TRUTH["stop_window_s"]
    return found is not None and early_s - 5.0 <= float(found[1]) <= late_s + 15.0


def test_board_reaches_the_service_with_its_key(typed, folder, port):
    *before, serve = block("umask 077").text.splitlines()
    key = re.search(r"\S{20,}", typed("\n".join(before)).stdout)[0]
    at = free_port()
    # The shell makes way for the service, so that it is the service that is asked to end.
    line = re.sub(r"^(?:\w+=\S+ )+", lambda settings: f"exec env {settings[0]}", serve) + f" --port {at} --workers 1"
    service = subprocess.Popen(
        ["/bin/sh", "-c", line], cwd=folder, env=environment(folder), stderr=subprocess.PIPE, text=True
    )
    try:
        while "Listening at" not in (line := service.stderr.readline()):
            assert line, "it ended"
        assert answered(at, {}) == 401
        assert answered(at, {"Authorization": f"Bearer {key}"}) == 200
        if micropython():
            (folder / "service" / "demonstration" / "popcorn.ndjson").write_text("".join(thinned(8)))
            trial = block("micropython deploy/device/trial.py").text.replace(" 8080 ", f" {at} ")
            assert "warn, stop by" in type_in(folder, trial, COOKSTOP_KEY=key).stdout
    finally:
        service.terminate()
        service.communicate(timeout=DEADLINE_S)


def answered(port, headers):
    post = {"program": "popcorn", "as_of": 1}
    url = f"http://127.0.0.1:{port}/v1/decisions"
    return requests.post(url, json=post, headers=headers, timeout=DEADLINE_S).status_code


def test_logs_are_kept_and_compared(typed, folder):
    for other in (folder / "service" / "demonstration").glob("popcorn-*.ndjson"):
        other.unlink()
    said = typed(block(".venv/bin/cookstop replay").text)
    assert said.returncode == 0, said.stderr
    assert said.stdout.splitlines()[-1] == "0 of 1 cooks changed"
    assert " stop " in said.stdout


def test_two_programmes_are_compared(typed):
    said = typed(f"mkdir kitchen; cp service/demonstration/popcorn.ndjson kitchen/\n{block('sed ').text}")
    assert said.returncode == 1, said.stderr
    assert "1 of 1 cooks changed; stops earlier 0, later 1" in said.stdout


def test_recording_becomes_a_log(typed, folder):
    sound, pops_s = made(Scene(duration_s=6.0, rate_hz=8_000, pops_per_s=2.0), 1)
    wavfile.write(folder / "cook.wav", 8_000, np.round(sound * 20_000.0).astype(np.int16))
    (folder / "kitchen").mkdir()
    (listen,) = RECORDING[1:]
    said = typed(listen)
    assert said.returncode == 0, said.stderr
    log = [json.loads(line) for line in (folder / "kitchen" / "cook.ndjson").read_text().splitlines()]
    assert sum(len(post["readings"]["pops"]) for post in log) == pytest.approx(len(pops_s), abs=2)
