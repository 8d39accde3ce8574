"""`cookstop serve` answers on this machine, and beyond it only when told to."""

import json
import socket
import subprocess
import sys

import pytest
import requests

from tests.commands.running import COOK, DEADLINE_S, environment


def test_service_answers(get):
    assert get("/livez").json() == {"status": "alive"}
    assert get("/v1/programs").json()["programs"]


def test_decision_over_the_network_stack(server):
    post = json.loads(COOK.read_text().splitlines()[0])
    answer = requests.post(f"{server}/v1/decisions", json=post, timeout=DEADLINE_S)
    assert answer.status_code == 200
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.json()["decision"] == "continue"


def test_cook_goes_on_whichever_worker_answers(server):
    state = requests.post(f"{server}/v1/decisions", json={"program": "popcorn"}, timeout=DEADLINE_S).json()["state"]
    for moment in range(1, 30):
        # Each post opens a connection of its own, which either worker may take.
        answer = requests.post(f"{server}/v1/decisions", json={"state": state, "as_of": moment}, timeout=DEADLINE_S)
        assert answer.status_code == 200
        state = answer.json()["state"]


def test_body_in_chunks_is_read(server):
    chunks = (part for part in (b'{"program":', b' "popcorn"}'))
    headers = {"Content-Type": "application/json"}
    assert requests.post(f"{server}/v1/decisions", data=chunks, headers=headers, timeout=DEADLINE_S).status_code == 200


def test_body_over_the_limit_is_a_problem_document(server):
    headers = {"Content-Type": "application/json"}
    answer = requests.post(f"{server}/v1/decisions", data=b" " * 262_145, headers=headers, timeout=DEADLINE_S)
    assert answer.status_code == 413
    assert answer.headers["Content-Type"] == "application/problem+json"


HOST = b"Host: here\r\nConnection: close\r\n"
POST = b"POST /v1/decisions HTTP/1.1\r\n" + HOST + b"Content-Type: application/json\r\n"
CHUNKED = POST + b"Transfer-Encoding: chunked\r\n\r\n"
UNREADABLE = {
    "no request at all": (b"once upon a time\r\n\r\n", 400),
    "a path of 3,000 characters": (b"GET /" + b"x" * 3000 + b" HTTP/1.1\r\n" + HOST + b"\r\n", 414),
    "a header of 5,000 characters": (b"GET /livez HTTP/1.1\r\n" + HOST + b"X: " + b"y" * 5000 + b"\r\n\r\n", 431),
    "sixty headers": (b"GET /livez HTTP/1.1\r\n" + b"X: y\r\n" * 60 + b"\r\n", 431),
    "a chunk of no length": (CHUNKED + b"zz\r\n{}\r\n0\r\n\r\n", 400),
    "a chunk that is longer than it says": (CHUNKED + b"1\r\n{}\r\n0\r\n\r\n", 400),
    "two ways to say the length": (POST + b"Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n{}", 400),
    "a length of no number": (POST + b"Content-Length: two\r\n\r\n{}", 400),
    "a body that never comes to its end": (POST + b'Content-Length: 30\r\n\r\n{"program": "popcorn"}', 400),
}


@pytest.mark.parametrize(("request_bytes", "status"), UNREADABLE.values(), ids=UNREADABLE)
def test_what_cannot_be_read_is_a_problem_document_too(server, request_bytes, status):
    with socket.create_connection(("127.0.0.1", int(server.rpartition(":")[2])), timeout=DEADLINE_S) as connection:
        connection.sendall(request_bytes)
        answer = connection.makefile("rb").read()
    head, _, body = answer.partition(b"\r\n\r\n")
    assert head.startswith(f"HTTP/1.1 {status} ".encode())
    assert b"Content-Type: application/problem+json" in head
    assert json.loads(body)["status"] == status


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.1", "example.org"])  # noqa: S104 (that is the point)
def test_addresses_beyond_this_machine_are_refused(cookstop, host):
    told = cookstop("serve", "--host", host)
    assert told.returncode == 2
    assert "--open-to-network" in told.stderr


def test_open_to_network_still_needs_keys_for_the_state(cookstop):
    told = cookstop("serve", "--host", "0.0.0.0", "--open-to-network")  # noqa: S104 (that is the point)
    assert told.returncode == 2
    assert "COOKSTOP_STATE_KEYS_FILE" in told.stderr


def test_gunicorn_alone_refuses_what_serve_refuses():
    command = [sys.executable, "-m", "gunicorn", "-c", "python:service.web.gunicorn_settings", "--bind", "0.0.0.0:0"]
    told = subprocess.run(command, env=environment(), capture_output=True, text=True, timeout=DEADLINE_S)
    assert told.returncode == 1
    assert "COOKSTOP_KEYS_FILE" in told.stderr
    assert "Traceback" not in told.stderr


def test_port_that_is_taken_fails(cookstop):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        told = cookstop("serve", "--port", str(taken.getsockname()[1]))
    assert told.returncode != 0
    assert "in use" in told.stderr


@pytest.mark.parametrize(
    ("environ", "said"),
    [
        ({"COOKSTOP_STATE_KEYS": "short"}, "state key 1"),
        ({"COOKSTOP_STATE_KEYS_FILE": "/nowhere/keys"}, "/nowhere/keys"),
        ({"COOKSTOP_KEYS_FILE": "/nowhere/keys"}, "/nowhere/keys"),
        ({"COOKSTOP_TIMEOUT_S": "soon"}, "COOKSTOP_TIMEOUT_S"),
        ({"COOKSTOP_DRAIN_S": "10"}, "COOKSTOP_DRAIN_S"),
        ({"COOKSTOP_DRAIN_S": "1.5"}, "COOKSTOP_DRAIN_S"),
    ],
)
def test_settings_that_cannot_be_used_stop_the_start(cookstop, environ, said):
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    told = cookstop("serve", "--port", str(port), **environ)
    assert told.returncode != 0
    assert said in told.stderr
