"""What only shows under several workers: counts that add up, a stop that is announced, a log that takes its time."""

import json
import re
import signal
import socket
import threading
from pathlib import Path

import pytest
import requests

from tests.commands.running import DEADLINE_S, serving

NDJSON = "application/x-ndjson"


def count(service, series):
    found = re.search(rf"^{re.escape(series)} (\S+)$", service.get("/metrics").text, re.MULTILINE)
    return float(found[1])


@pytest.mark.parametrize("threads", ["1", "4"])
def test_counts_of_all_workers_are_added_up_whoever_is_asked(tmp_path, threads):
    (tmp_path / "counter_1.db").write_bytes(b"what an earlier start has left")
    with serving(COOKSTOP_METRICS_FOLDER=str(tmp_path), COOKSTOP_THREADS=threads) as service:
        for _ in range(40):
            assert service.post("/v1/decisions", b'{"program": "popcorn"}').status_code == 200
        decided = 'cookstop_decisions_total{decision="continue",rule="too-early-to-say"}'
        assert {count(service, decided) for _ in range(6)} == {40.0}
        series = 'cookstop_request_duration_seconds_count{method="POST",route="/v1/decisions",status="200"}'
        assert {count(service, series) for _ in range(3)} == {40.0}


@pytest.fixture(scope="module")
def service():
    """One worker, and nothing said but that."""
    with serving(workers=1) as service:
        yield service


def test_what_cannot_be_read_is_counted_too(service):
    where = ("127.0.0.1", int(service.url.rpartition(":")[2]))
    with socket.create_connection(where, timeout=DEADLINE_S) as connection:
        connection.sendall(b"GET /livez HTTP/1.1\r\nAuthorization: Bearer a-key-\0\r\n\r\n")
        assert connection.makefile("rb").read().startswith(b"HTTP/1.1 400 ")
    assert count(service, 'cookstop_problems_total{type="bad-request"}') == 1.0
    assert "a-key-" not in service.said()


def test_folder_of_the_counts_is_gone_after_the_service():
    with serving(workers=1) as service:
        environ = Path(f"/proc/{children(service.process.pid)[0]}/maps").read_text()
        (folder,) = set(re.findall(r"(/\S*cookstop-metrics-[^/]+)/", environ))
        assert Path(folder).is_dir()
    assert not Path(folder).exists()


def children(process_id):
    return [int(child) for child in Path(f"/proc/{process_id}/task/{process_id}/children").read_text().split()]


def test_each_request_is_a_line_of_json(service):
    service.post("/v1/decisions", b"{")
    # Its line is written once it is answered, and before the one worker answers anything else.
    service.get("/livez")
    lines = [json.loads(line) for line in service.said().splitlines() if line.startswith("{")]
    assert [line["problem"] for line in lines if line.get("route") == "/v1/decisions"] == ["not-json"]


def test_worker_that_is_told_to_stop_says_so_and_goes_on_answering():
    with serving(workers=1, COOKSTOP_DRAIN_S="3") as service:
        assert service.get("/readyz").status_code == 200
        service.process.send_signal(signal.SIGTERM)
        while (ready := service.get("/readyz")).status_code == 200:
            pass
        assert ready.status_code == 503
        assert ready.headers["Retry-After"] == "1"
        assert service.post("/v1/decisions", b'{"program": "popcorn"}').status_code == 200
        service.process.wait(DEADLINE_S)
        with pytest.raises(requests.ConnectionError):
            service.get("/livez")


def test_log_may_take_longer_than_the_timeout_of_a_worker():
    def lines():
        for at in range(12):
            yield b'{"program": "popcorn", "as_of": %d}' % at + b" " * 2000 + b"\n"
            threading.Event().wait(0.3)

    with serving(workers=1, COOKSTOP_TIMEOUT_S="2") as service:
        answers = service.post("/v1/replays", lines(), NDJSON).text.splitlines()
        # Its line is written once it is answered, and before the one worker answers anything else.
        service.get("/livez")
        (line,) = [json.loads(line) for line in service.said().splitlines() if '"/v1/replays"' in line]
    assert [json.loads(answer)["as_of"] for answer in answers] == list(range(12))
    assert line["ms"] > 3000
    assert line["lines"] == 12


def test_answers_come_while_the_log_still_does(service):
    line = b'{"program": "popcorn"}' + b" " * 5000 + b"\n"
    chunk = b"%x\r\n%b\r\n" % (len(line), line)
    head = (
        b"POST /v1/replays HTTP/1.1\r\nHost: here\r\nContent-Type: application/x-ndjson\r\n"
        b"Transfer-Encoding: chunked\r\n\r\n"
    )
    where = ("127.0.0.1", int(service.url.rpartition(":")[2]))
    with socket.create_connection(where, timeout=DEADLINE_S) as connection:
        answers = connection.makefile("rb")
        connection.sendall(head + chunk)
        for _ in range(3):
            # An answer lags behind its line by a kilobyte at most.
            connection.sendall(chunk)
            assert any(b'"decision"' in line for line in iter(answers.readline, b""))
        connection.sendall(b"0\r\n\r\n")
        assert answers.read().endswith(b"0\r\n\r\n")
