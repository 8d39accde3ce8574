"""The conversation in curl lines, with the real service and without it."""

import json
import os
import shutil
import subprocess

import pytest

from tests.commands.running import COOK, DEADLINE_S
from tests.device.listening import reply, saying
from tests.device.pulled_out import DEVICE

TRUTH = json.loads((COOK.parent / "popcorn-truth.json").read_text())


def thinned(every_s):
    """The invented cook, with a post every few seconds."""
    posts = [json.loads(line) for line in COOK.read_text().splitlines()]
    for at in range(0, len(posts), every_s):
        group = posts[at : at + every_s]
        readings = {}
        for post in group:
            for kind, values in post["readings"].items():
                readings.setdefault(kind, []).extend(values)
        yield json.dumps({**group[0], "as_of": group[-1]["as_of"], "readings": readings}) + "\n"


@pytest.fixture
def converse(curl):
    def run(url, log, **environ):
        return subprocess.run(
            [shutil.which("sh"), str(DEVICE / "curl.sh"), url],
            input="".join(log),
            capture_output=True,
            text=True,
            timeout=DEADLINE_S,
            env={**os.environ, **environ},
        )

    return run


def test_cook_is_stopped_by_the_service_in_time(converse, port):
    said = converse(f"http://127.0.0.1:{port}", thinned(8))
    assert said.returncode == 0, said.stderr
    *_, last, by = said.stdout.splitlines()
    assert by == "stopped by the service"
    early_s, late_s = TRUTH["stop_window_s"]
    assert early_s - 5.0 <= float(last.partition(" s: stop")[0]) <= late_s + 15.0


DECISION = b'{"decision":"continue","as_of":1.0,"stop_by_s":20.5,"state":"s"}'
POSTS = ['{"program": "popcorn", "as_of": 1}\n', *(f'{{"as_of": {at}, "readings": {{}}}}\n' for at in range(2, 40))]


@pytest.mark.parametrize(
    "then", [reply("503 Service Unavailable", b"{}"), reply("200 OK", b"<html>Welcome</html>")], ids=["503", "a page"]
)
def test_cook_is_stopped_by_the_last_deadline_when_the_service_goes(converse, then):
    answers = reply("200 OK", DECISION), then
    with saying(*answers) as (port, asked):
        said = converse(f"http://127.0.0.1:{port}", POSTS)
    assert said.stdout.splitlines()[-1] == "stopped by the deadline at 21 s"
    assert said.returncode == 0
    # What was not answered is what is asked again.
    assert all(request.endswith(b'{"state":"s","as_of": 2, "readings": {}}') for request in asked[1:])


def test_what_waited_goes_out_in_order_when_the_service_is_back(converse):
    answers = reply("503 Service Unavailable", b"{}"), reply("200 OK", DECISION)
    with saying(*answers) as (port, asked):
        converse(f"http://127.0.0.1:{port}", POSTS[:3])
    bodies = [json.loads(request.partition(b"\r\n\r\n")[2]) for request in asked]
    assert [body["as_of"] for body in bodies] == [1, 1, 2, 3]
    assert ["state" in body for body in bodies] == [False, False, True, True]


def test_refusal_ends_it_and_the_key_was_shown(converse):
    with saying(reply("401 Unauthorized", b'{"detail":"no key"}')) as (port, asked):
        said = converse(f"http://127.0.0.1:{port}", POSTS, COOKSTOP_KEY="secret")
    assert said.returncode == 1
    assert "no key" in said.stdout
    assert b"\r\nAuthorization: Bearer secret\r\n" in asked[0]
    assert len(asked) == 1
