"""The C program, compiled here, against the real service and without one."""

import json
import os
import shutil
import subprocess
import time
from collections.abc import Iterator

import pytest

from tests.client.kitchen import asked
from tests.commands.running import DEADLINE_S
from tests.device.listening import reply, saying, serving
from tests.device.pulled_out import DEVICE
from tests.simulation import simulate

FLAGS = ["-std=c11", "-O2", "-Wall", "-Wextra", "-Werror", "-pedantic"]


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    """The compiled program."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None:
        pytest.skip("no C compiler: install Debian's package gcc")
    has_library = subprocess.run([compiler, "-E", "-"], input="#include <curl/curl.h>", capture_output=True, text=True)
    if has_library.returncode != 0:
        pytest.skip("no libcurl to compile with: install Debian's package libcurl4-openssl-dev")
    path = tmp_path_factory.mktemp("device") / "cookstop"
    made = subprocess.run(
        [compiler, *FLAGS, "-o", str(path), str(DEVICE / "cookstop.c"), "-lcurl"], capture_output=True, text=True
    )
    assert made.returncode == 0, made.stderr
    return str(path)


def environment(**more):
    return {**os.environ, **more}


def lines(cook, from_s=0.0, until_s=1e9):
    """The readings of a cook as the program takes them, with the time before each."""
    for at_s, said in sorted(_timed(cook), key=lambda one: one[0]):
        if from_s <= at_s < until_s:
            yield f"at {at_s:.3f}\n{said}\n"


def _timed(cook) -> Iterator[tuple[float, str]]:
    for post in cook.log:
        for kind, values in post["readings"].items():
            for one in values:
                if kind == "pops":
                    yield one, "pop"
                elif kind == "humidity":
                    yield one["t"], f"humidity {one['rh_pct']} {one.get('air_c', '')}"
                else:
                    yield one["t"], f"power {one['level']}"


@pytest.fixture(scope="module")
def bag():
    return simulate("regular", 27, network=False)


def test_whole_cook_is_stopped_by_the_service(program, port, bag):
    ended = subprocess.run(
        [program, f"http://127.0.0.1:{port}"],
        input="".join(lines(bag)),
        capture_output=True,
        text=True,
        timeout=DEADLINE_S,
        env=environment(COOKSTOP_CLOCK="input", COOKSTOP_SETUP=json.dumps(bag.log[0].get("setup", {}))),
    )
    assert ended.returncode == 0, ended.stderr
    answers = [json.loads(line) for line in ended.stdout.splitlines()]
    stops_s = [answer["as_of"] for answer in answers if answer["decision"] == "stop"]
    early_s, late_s = bag.truth["stop_window_s"]
    assert early_s - 5.0 <= stops_s[0] <= late_s + 5.0
    assert f"contact open at {stops_s[0]:.3f} s: service" in ended.stderr


class Running:
    """The program while it runs, fed line by line."""

    def __init__(self, program, url, **environ):
        self.process = subprocess.Popen(
            [program, url],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environment(**environ),
        )
        self.answers = []

    def __enter__(self):
        return self

    def __exit__(self, *_):
        with self.process:
            self.process.kill()

    def feed(self, said):
        self.process.stdin.write("".join(said))
        self.process.stdin.flush()

    def answered_until(self, as_of_s):
        while not self.answers or self.answers[-1]["as_of"] < as_of_s:
            self.answers.append(json.loads(self.process.stdout.readline()))

    def told(self, part, after_s=0.0):
        said = (line for line in self.process.stderr if part in line)
        return next(line for line in said if not after_s or float(line.partition(" ")[0]) > after_s)


def test_service_that_goes_and_comes_back_gets_every_reading(program, bag):
    with serving() as port:
        running = Running(program, f"http://127.0.0.1:{port}", COOKSTOP_CLOCK="input")
        running.feed(lines(bag, until_s=82.0))
        running.answered_until(80.0)
    with running:
        running.feed([*lines(bag, from_s=82.0, until_s=90.0), "at 90.0\n"])
        # By then it has tried in vain, the longest wait being four seconds.
        assert running.told(" s: no answer", after_s=85.0)
        with serving(port):
            running.feed([*lines(bag, from_s=90.0, until_s=100.0), "at 100.0\n", "at 105.0\n"])
            running.answered_until(104.9)
    assert (
        running.answers[-1]["evidence"]
        == asked(
            {
                "program": "popcorn",
                "as_of": running.answers[-1]["as_of"],
                "readings": {kind: read_before(bag, kind, 100.0) for kind in ("pops", "humidity", "power")},
            }
        )["evidence"]
    )


def read_before(cook, kind, until_s):
    read = [one for post in cook.log for one in post["readings"].get(kind, [])]
    return [one for one in read if (one["t"] if isinstance(one, dict) else one) < until_s]


def test_contact_opens_in_time_on_the_clock_of_the_machine_when_the_service_is_silent(program):
    begun_s = time.monotonic()
    with (
        saying(silent=True) as (port, _),
        Running(program, f"http://127.0.0.1:{port}", COOKSTOP_UNANSWERED_S="0.7") as running,
    ):
        assert "deadline" in running.told("contact open")
        assert 0.7 <= time.monotonic() - begun_s < 3.5


@pytest.mark.parametrize(("verdict", "stop_by_s"), [("go on", 60.0), ("continue", 1e5), ("continue", -1.0)])
def test_answer_that_is_no_decision_keeps_the_deadline_that_there_is(program, verdict, stop_by_s):
    answer = {"decision": verdict, "stop_by_s": stop_by_s, "post_again_in_s": 0.2, "state": "s"}
    with (
        saying(reply("200 OK", json.dumps(answer).encode())) as (port, _),
        Running(program, f"http://127.0.0.1:{port}", COOKSTOP_UNANSWERED_S="0.5") as running,
    ):
        assert "deadline" in running.told("contact open")
        assert running.answers == []


def test_refused_post_opens_the_contact(program):
    with saying(reply("401 Unauthorized", b'{"detail":"no key"}')) as (port, request):
        ended = subprocess.run(
            [program, f"http://127.0.0.1:{port}"],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=DEADLINE_S,
            env=environment(COOKSTOP_KEY="secret"),
        )
    assert ended.returncode == 1
    assert "refused: status 401" in ended.stderr
    assert "contact open" in ended.stderr
    assert b"\r\nAuthorization: Bearer secret\r\n" in request[0]


def test_wrong_use_is_told(program):
    ended = subprocess.run([program], capture_output=True, text=True)
    assert ended.returncode == 2
    assert "usage" in ended.stderr
