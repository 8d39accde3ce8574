"""The device's client under MicroPython, in a heap of 64 kB, against the real service and against bad ones."""

import subprocess
import textwrap
import time

import pytest

from tests.client.pulled_out import OUT_S, STEP_S, Case, cases
from tests.commands.running import DEADLINE_S
from tests.device.listening import reply, saying
from tests.device.pulled_out import DEVICE, HEAP, outcome
from tests.simulation import simulate

DECISION = (
    b'{"decision":"%s","stop_by_s":%s,"post_again_in_s":0.2,"reasons":[{"rule":"popping","says":""}],"state":"s"}'
)


@pytest.fixture(scope="module", params=cases(3), ids=lambda case: f"{case.kind}-{case.way}")
def seen(request, port, interpreter):
    return outcome(request.param, port, interpreter)


def test_heating_ends_by_the_last_deadline_that_came_through(seen):
    assert seen.stopped_s <= seen.deadline_s + STEP_S


def test_service_ends_with_every_reading_and_no_other(seen):
    assert seen.unsent == 0
    assert seen.same_evidence


def test_tries_thin_out_while_nothing_answers(seen):
    assert 2 <= seen.tries <= OUT_S / 2.0 + 5


def test_a_third_of_the_heap_is_never_needed(seen):
    assert seen.least_free_bytes > 64 * 1024 / 3


def test_timer_in_hardware_is_told_of_every_deadline(seen):
    assert seen.armed > 20


def test_whole_cook_is_stopped_by_the_service_where_it_should_be(port, interpreter):
    cook = simulate("regular", 27, network=False)
    seen = outcome(Case(kind="regular", seed=27, way="refused"), port, interpreter, out_s=0.0)
    early_s, late_s = cook.truth["stop_window_s"]
    assert seen.stopped_by == "service"
    assert early_s - 5.0 <= seen.stopped_s <= late_s + 5.0


@pytest.fixture
def device(interpreter):
    """Runs lines on the device with the client at hand, and gives what they print and how long they took (s)."""

    def run(lines, port):
        code = f"import sys\nsys.path.insert(0, {str(DEVICE)!r})\nimport cookstop\nPORT = {port}\n" + textwrap.dedent(
            lines
        )
        begun_s = time.monotonic()
        ended = subprocess.run(
            [interpreter, "-X", f"heapsize={HEAP}", "-c", code], capture_output=True, text=True, timeout=DEADLINE_S
        )
        return ended.stdout + ended.stderr, time.monotonic() - begun_s

    return run


COOK = """
    cookstop.UNANSWERED_MS = 400
    cookstop.WAIT_MS = 150
    service = cookstop.Service("127.0.0.1", PORT, key="secret")
    cook = cookstop.Cook(service, lambda: print("off", cook.ms() // 100))
    cookstop.run(cook, lambda cook: None, 10, 0)
    print(cook.stopped_by)
"""


def test_heating_ends_in_time_when_the_service_is_silent(device):
    with saying(silent=True) as (port, _):
        said, took_s = device(COOK, port)
    off, tenths, *_ = said.split()
    assert off == "off", said
    assert 4 <= int(tenths) <= 16
    assert took_s < 12.0


@pytest.mark.parametrize(
    "answer",
    [
        b"",
        b"once upon a time",
        reply("200 OK", b"{"),
        reply("200 OK", b"[]"),
        reply("200 OK", b'{"decision":"continue"}'),
        reply("200 OK", DECISION % (b"go on", b"60")),
        reply("200 OK", DECISION % (b"continue", b"1e5")),
        reply("200 OK", b" " * 20_000),
        reply("500 Internal Server Error", b"{}"),
        reply("302 Found", b"{}", "Location: http://127.0.0.1/"),
        reply("503 Service Unavailable", b"{}", "Retry-After: 9"),
        reply("429 Too Many Requests", b"{}", "Retry-After: Wed, 25 Nov 2026 12:00:00 GMT"),
    ],
    ids=[
        "nothing",
        "no HTTP",
        "cut off",
        "a list",
        "half",
        "no verdict",
        "never",
        "too long",
        "500",
        "302",
        "503",
        "429",
    ],
)
def test_heating_ends_in_time_whatever_else_answers(device, answer):
    with saying(answer) as (port, asked):
        said, _ = device(COOK, port)
    assert said.splitlines()[-1] == "deadline", said
    assert 4 <= int(said.splitlines()[0].removeprefix("off ")) <= 16, said
    assert 1 <= len(asked) <= 6


def test_retry_after_is_kept(device):
    with saying(reply("503 Service Unavailable", b"{}", "Retry-After: 9")) as (port, asked):
        device(COOK, port)
    assert len(asked) == 1


def test_refused_post_ends_the_heating_and_is_not_tried_again(device):
    with saying(reply("401 Unauthorized", b'{"detail":"no key"}')) as (port, asked):
        said, _ = device(COOK, port)
    assert said.startswith("off 0")
    assert "Refused" in said
    assert "no key" in said
    assert len(asked) == 1


def test_post_is_whole_and_carries_the_key(device):
    with saying(reply("200 OK", DECISION % (b"stop", b"0"))) as (port, asked):
        said, _ = device(COOK, port)
    head, _, body = asked[0].partition(b"\r\n\r\n")
    assert head.startswith(b"POST /v1/decisions HTTP/1.0\r\nHost: 127.0.0.1\r\n")
    assert b"\r\nAuthorization: Bearer secret\r\n" in head
    assert body.startswith(b'{"program": "popcorn","as_of":0.')
    assert said.splitlines()[-1] == "service"


def test_stop_is_taken_back_by_a_restart_until_the_service_says_otherwise(device):
    with saying(reply("200 OK", DECISION % (b"stop", b"0")), reply("200 OK", DECISION % (b"warn", b"60"))) as (
        port,
        asked,
    ):
        said, _ = device(
            COOK
            + """
    cook.power(0.5)
    cook.restart()
    print(cook.goes_on(), cook.poll(), cook.stop_by_ms)
""",
            port,
        )
    assert said.splitlines()[-1] == "True warn 60000"
    assert b'"restarts":[' in asked[-1]
    assert asked[-1].count(b'"level":0.500') == 2


def test_more_than_a_post_takes_goes_in_parts_that_decide_nothing(device):
    with saying(reply("200 OK", DECISION % (b"stop", b"0"))) as (port, asked):
        said, _ = device(
            """
            cook = cookstop.Cook(cookstop.Service("127.0.0.1", PORT), lambda: print("off"))
            for at in range(400):
                cook.pop(at)
            print(cook.poll())
            print(cook.poll())
            print(cook.unsent() > 0)
            """,
            port,
        )
    assert said.splitlines() == ["continue", "off", "stop", "True"]
    first, second = (request.partition(b'"pops":[')[2] for request in asked)
    assert first.startswith(b"0.000,0.001,")
    assert second.endswith(b"0.399]}}")
    assert b'"as_of":0.000' in asked[0]
    assert first.count(b".") + second.count(b".") == 400


def test_file_is_one_and_needs_only_the_standard_port():
    imports = [
        line for line in (DEVICE / "cookstop.py").read_text().splitlines() if line.startswith(("import", "from"))
    ]
    assert imports == ["import gc", "import io", "import json", "import socket", "import time"]
