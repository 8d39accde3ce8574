"""How a worker ends a connection: it neither waits for a client that has all it asked for, nor takes an answer from one."""

import socket
from contextlib import ExitStack
from time import monotonic

import pytest

from tests.commands.running import DEADLINE_S

BODY = b'{"program": "popcorn"}'
HEAD = b"POST /v1/decisions HTTP/1.1\r\nHost: here\r\nContent-Type: application/json\r\n"
POST = HEAD + b"Content-Length: %d\r\n\r\n" % len(BODY) + BODY


def connected(server):
    return socket.create_connection(("127.0.0.1", int(server.rpartition(":")[2])), timeout=DEADLINE_S)


def status_and_length(answer):
    """The status, the length that the head says, and that of the body."""
    head, _, body = answer.partition(b"\r\n\r\n")
    said = next(line for line in head.splitlines() if line.startswith(b"Content-Length: "))
    return int(head.split()[1]), int(said.split()[1]), len(body)


def test_clients_that_do_not_hang_up_hold_no_worker(server):
    """Gunicorn waits two seconds for each: with one worker a core these would take many times that."""
    began_s = monotonic()
    with ExitStack() as kept:
        for _ in range(100):
            client = kept.enter_context(connected(server))
            client.sendall(POST)
            assert client.makefile("rb").read().startswith(b"HTTP/1.1 200 ")
    assert monotonic() - began_s < 20.0


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        pytest.param(POST + POST, 200, id="a second post at once"),
        pytest.param(POST + b"x" * 100_000, 200, id="more than the length says"),
        pytest.param(HEAD + b"Content-Length: 300000\r\n\r\n" + b"x" * 300_000, 413, id="a body that is not read"),
        pytest.param(
            b"GET /livez HTTP/1.1\r\nHost: here\r\nContent-Length: 9\r\n\r\nunread by", 200, id="a body for nothing"
        ),
    ],
)
def test_client_that_sends_more_than_is_read_keeps_its_answer(server, sent, status):
    with connected(server) as client:
        client.sendall(sent)
        told, length, came = status_and_length(client.makefile("rb").read())
    assert (told, came) == (status, length)
