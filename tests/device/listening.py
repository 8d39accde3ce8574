"""Servers of this machine in threads of the test: one that says what the test wants, and the service itself."""

import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from werkzeug.serving import WSGIRequestHandler, make_server

from tests.client.kitchen import STATE_KEY
from tests.web.clients import client_with


@contextmanager
def saying(
    *answers: bytes, silent: bool = False, within: ssl.SSLContext | None = None
) -> Iterator[tuple[int, list[bytes]]]:
    """A server that gives one answer after another, the last for ever, or none at all; its port, and what was asked."""
    asked: list[bytes] = []
    left = list(answers)
    over = threading.Event()

    def serve() -> None:
        while not over.is_set():
            try:
                connection, _ = listener.accept()
            except OSError:
                return
            try:
                connection = connection if within is None else within.wrap_socket(connection, server_side=True)
            except ssl.SSLError:
                # Whoever does not like the certificate is not answered.
                continue
            with connection:
                asked.append(_request(connection))
                if silent:
                    over.wait(20.0)
                else:
                    connection.sendall(left.pop(0) if len(left) > 1 else left[0])

    with socket.create_server(("127.0.0.1", 0)) as listener:
        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        try:
            yield listener.getsockname()[1], asked
        finally:
            over.set()
            listener.shutdown(socket.SHUT_RDWR)
            thread.join()


@contextmanager
def serving(port: int = 0) -> Iterator[int]:
    """The service at this port, or a free one, as long as the block runs; the port. It starts and ends at once."""
    app = client_with(state_keys=(STATE_KEY.encode(),), log_level="error").application
    server = make_server("127.0.0.1", port, app, threaded=True, request_handler=_Quiet)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)
    thread.start()
    try:
        yield server.port
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


class _Quiet(WSGIRequestHandler):
    def log_request(self, *_: object) -> None:
        """Say nothing."""


def reply(status: str, body: bytes, *headers: str) -> bytes:
    """An answer in HTTP."""
    lines = [f"HTTP/1.1 {status}", "Connection: close", f"Content-Length: {len(body)}", *headers]
    return "\r\n".join(lines).encode() + b"\r\n\r\n" + body


def _request(connection: socket.socket) -> bytes:
    held = b""
    while b"\r\n\r\n" not in held or len(held.partition(b"\r\n\r\n")[2]) < _length(held):
        piece = connection.recv(65_536)
        if not piece:
            break
        held += piece
    return held


def _length(held: bytes) -> int:
    head = held.partition(b"\r\n\r\n")[0].lower()
    said = [line.partition(b":")[2] for line in head.split(b"\r\n") if line.startswith(b"content-length:")]
    return int(said[0]) if said else 0
