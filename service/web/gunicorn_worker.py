"""A gunicorn worker that answers with a problem document even what never reaches the application.

It also has little patience: a client that falls silent in the middle of a request loses its connection before the
worker itself is taken for dead.
"""

import socket
from contextlib import suppress
from http import HTTPStatus

from gunicorn.http.errors import LimitRequestHeaders, LimitRequestLine, ParseException
from gunicorn.http.message import Request
from gunicorn.workers.sync import SyncWorker

from service.web.json_text import written
from service.web.problems import MEDIA_TYPE, Kind, Refused

PATIENCE_S = 5.0

Address = str | int | tuple[str, int]


class ProblemWorker(SyncWorker):
    """gunicorn's own sync worker, but for the two things above."""

    def handle(self, listener: socket.socket, client: socket.socket, addr: Address) -> None:
        """Answer one connection."""
        client.settimeout(PATIENCE_S)
        super().handle(listener, client, addr)

    def handle_error(self, req: Request | None, client: socket.socket, addr: Address, exc: BaseException) -> None:
        """Tell the client what is wrong with a request that could not be read, or that the worker failed."""
        refused = Refused(_slug(exc))
        if isinstance(exc, ParseException):
            self.log.warning("a request from %s cannot be read: %s", addr, exc)
        else:
            self.log.error("a request from %s failed", addr, exc_info=exc)
        with suppress(OSError):
            client.sendall(_response(refused.kind, written(refused.document()).encode("ascii")))


def _slug(error: BaseException) -> str:
    if isinstance(error, LimitRequestLine):
        return "path-too-long"
    if isinstance(error, LimitRequestHeaders):
        return "headers-too-large"
    return "bad-request" if isinstance(error, ParseException) else "internal"


def _response(kind: Kind, body: bytes) -> bytes:
    head = (
        f"HTTP/1.1 {kind.status} {HTTPStatus(kind.status).phrase}\r\n"
        "Connection: close\r\n"
        f"Content-Type: {MEDIA_TYPE}\r\n"
        f"Content-Length: {len(body)}\r\n\r\n"
    )
    return head.encode("ascii") + body
