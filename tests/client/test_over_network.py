"""Posts over real connections to servers of this machine, well and badly behaved."""

import json
import socket
import threading
import time
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

from service.client import CookSession, OverNetwork, Unreachable
from tests.client.kitchen import decision, problem

KEY = "a-key-of-the-tests"


class Asked:
    """What a server was sent."""

    def __init__(self):
        self.paths, self.headers, self.posts = [], [], []


@contextmanager
def answering(reply, headers=()):
    """A server that gives one reply to whatever comes; its URL, and what it was sent."""
    asked = Asked()

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_POST(self):
            asked.paths.append(self.path)
            asked.headers.append(dict(self.headers))
            asked.posts.append(json.loads(self.rfile.read(int(self.headers["Content-Length"]))))
            self.send_response(reply.status)
            for name, value in (*headers, ("Content-Length", str(len(reply.body)))):
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(reply.body)

        def log_message(self, *_):
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}", asked
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


@contextmanager
def saying(said, then=None):
    """A server that sends these bytes to whoever connects, at once, and then does what it is told; its URL."""
    over = threading.Event()

    def serve():
        while not over.is_set():
            try:
                connection, _ = listener.accept()
            except OSError:
                return
            with connection:
                connection.recv(65_536)
                connection.sendall(said)
                if then is not None:
                    then(connection, over)

    with socket.create_server(("127.0.0.1", 0)) as listener:
        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        try:
            yield f"http://127.0.0.1:{listener.getsockname()[1]}"
        finally:
            over.set()
            listener.shutdown(socket.SHUT_RDWR)
            thread.join()


def test_post_goes_to_the_path_of_decisions_with_its_key():
    with answering(decision()) as (url, asked):
        reply = OverNetwork(url + "/", key=KEY).post(b'{"program": "popcorn"}', 5.0)
    assert reply == decision()
    assert asked.paths == ["/v1/decisions"]
    assert asked.posts == [{"program": "popcorn"}]
    assert asked.headers[0]["Authorization"] == f"Bearer {KEY}"
    assert asked.headers[0]["Content-Type"] == "application/json"


def test_no_key_is_sent_where_there_is_none(monkeypatch, tmp_path):
    netrc = tmp_path / "netrc"
    netrc.write_text("machine 127.0.0.1 login somebody password secret\n")
    monkeypatch.setenv("NETRC", str(netrc))
    with answering(decision()) as (url, asked):
        OverNetwork(url).post(b"{}", 5.0)
    assert "Authorization" not in asked.headers[0]


def test_proxy_of_the_environment_is_not_asked(monkeypatch):
    monkeypatch.setenv("http_proxy", "http://127.0.0.1:9")
    with answering(decision()) as (url, _):
        assert OverNetwork(url).post(b"{}", 5.0).status == 200


def test_refusal_is_a_reply_with_its_wish():
    with answering(problem(503), headers=[("Retry-After", "3")]) as (url, _):
        reply = OverNetwork(url).post(b"{}", 5.0)
    assert (reply.status, reply.retry_after_s) == (503, 3.0)


def test_redirection_is_not_followed():
    with answering(problem(307), headers=[("Location", "http://127.0.0.1:9/")]) as (url, asked):
        assert OverNetwork(url).post(b"{}", 5.0).status == 307
    assert len(asked.posts) == 1


def test_service_that_is_not_there_is_unreachable():
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    with pytest.raises(Unreachable, match="no answer"):
        OverNetwork(f"http://127.0.0.1:{port}").post(b"{}", 5.0)


HEAD = b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\n"


def silent(_, over):
    over.wait(20.0)


def dripping(connection, over):
    """A byte now and then: each read gets something in time."""
    while not over.wait(0.02):
        try:
            connection.sendall(b" ")
        except OSError:
            return


@pytest.mark.parametrize(
    ("said", "then"),
    [
        (b"", None),
        (b"", silent),
        (b"once upon a time\r\n\r\n", None),
        (HEAD + b"Content-Length: 100\r\n\r\n{", None),
        (HEAD + b"Content-Length: 100\r\n\r\n{", silent),
        (HEAD + b"Content-Length: 100000\r\n\r\n{", dripping),
        (HEAD + b"X: ", dripping),
        (HEAD + b"Content-Length: 9000000\r\n\r\n" + b" " * 5_000_000, silent),
    ],
    ids=["closed", "silent", "no HTTP", "cut off", "stalled", "dripping body", "dripping headers", "endless"],
)
def test_bad_answer_is_given_up_in_time(said, then):
    with saying(said, then) as url:
        begun_s = time.monotonic()
        with pytest.raises(Unreachable):
            OverNetwork(url).post(b"{}", 0.4)
        assert time.monotonic() - begun_s < 2.0


def test_session_over_a_real_connection():
    with (
        answering(decision("stop", stop_by_s=0.0)) as (url, asked),
        CookSession(OverNetwork(url, key=KEY), program="popcorn") as cook,
    ):
        cook.pop(0.0)
        assert cook.poll().decision == "stop"
    assert asked.posts[0]["readings"] == {"pops": [0.0]}
