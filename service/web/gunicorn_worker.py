"""Gunicorn workers that answer with a problem document even what never reaches the application.

They also have little patience: a client that falls silent in the middle of a request loses its connection before the
worker itself is taken for dead, and one that has its answer is not waited for. And they can linger: told to stop, a
worker says so at /readyz and goes on answering for COOKSTOP_DRAIN_S seconds, in which whoever sends it requests can
notice.
"""

import os
import signal
import socket
from collections.abc import Callable, Iterable, MutableMapping
from contextlib import suppress
from http import HTTPStatus
from time import monotonic
from types import FrameType
from typing import Any

from gunicorn.http.errors import LimitRequestHeaders, LimitRequestLine, ParseException
from gunicorn.http.message import Request
from gunicorn.workers.base import Worker
from gunicorn.workers.gthread import ThreadWorker
from gunicorn.workers.sync import SyncWorker

from service.web.health import DRAINING
from service.web.json_text import written
from service.web.long_requests import STILL_HERE
from service.web.metrics import Metrics
from service.web.problems import MEDIA_TYPE, Kind, Refused

PATIENCE_S = 5.0
LAST_CALL_S = 2.0

Address = str | int | tuple[str, int]
StartResponse = Callable[[str, Iterable[tuple[str, str]]], None]


class _Telling(Worker):
    """What is added to a worker of gunicorn's own, of either kind."""

    draining = False

    def load_wsgi(self) -> None:
        """Load the application, and let it know of its worker."""
        super().load_wsgi()
        application: Any = self.wsgi
        self._metrics: Metrics = application.extensions[Metrics.NAME]

        def answered(environ: MutableMapping[str, Any], start_response: StartResponse) -> Iterable[bytes]:
            environ[DRAINING] = self.draining
            environ[STILL_HERE] = self.notify
            answer: Iterable[bytes] = application(environ, start_response)
            return answer

        self.wsgi = answered

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Told to stop: linger, then end as gunicorn does."""
        linger_s = int(os.environ.get("COOKSTOP_DRAIN_S") or 0)
        if self.draining or linger_s == 0:
            super().handle_exit(sig, frame)
            return
        self.draining = True
        signal.signal(signal.SIGALRM, self.handle_exit)
        signal.setitimer(signal.ITIMER_REAL, linger_s)

    def handle_error(self, req: Request | None, client: socket.socket, addr: Address, exc: BaseException) -> None:
        """Tell the client what is wrong with a request that could not be read, or that the worker failed."""
        refused = Refused(_slug(exc))
        self._metrics.refused(refused.kind.slug, None)
        if isinstance(exc, ParseException):
            # Its kind alone: the text of the error may quote what was sent.
            self.log.warning("a request from %s cannot be read: %s", addr, type(exc).__name__)
        else:
            self.log.error("a request from %s failed", addr, exc_info=exc)
        with suppress(OSError):
            client.sendall(_response(refused.kind, written(refused.document()).encode("ascii")))


class ProblemWorker(_Telling, SyncWorker):
    """One request at a time."""

    def run(self) -> None:
        """Serve until told to stop, and then whoever waits already: closing the socket would cut them off unheard."""
        super().run()
        until_s = monotonic() + LAST_CALL_S
        for listener in self.sockets:
            with suppress(BlockingIOError):
                while monotonic() < until_s:
                    self.notify()
                    self.accept(listener)

    def handle(self, listener: socket.socket, client: socket.socket, addr: Address) -> None:
        """Answer one connection."""
        client.settimeout(PATIENCE_S)
        super().handle(listener, client, addr)

    def handle_request(self, listener: socket.socket, req: Request, client: socket.socket, addr: Any) -> bool:
        """Answer one request, and hang up on a client that has said all it had to say.

        Gunicorn would wait until the client hangs up too, which keeps the only thread of a worker from its next.
        """
        answered = super().handle_request(listener, req, client, addr)
        if not self.cfg.is_ssl and _is_read_to_its_end(req) and _is_silent(client):
            client.close()
        return answered


class ThreadedProblemWorker(_Telling, ThreadWorker):
    """As many requests at a time as there are threads, on connections that are kept."""


def _is_read_to_its_end(request: Request) -> bool:
    """Whether the body has a length, and all of it was read."""
    return request.body is not None and getattr(request.body.reader, "length", None) == 0


def _is_silent(client: socket.socket) -> bool:
    """Whether nothing that a client has sent is still unread, for which closing would take the answer from it."""
    client.setblocking(False)
    try:
        client.recv(1, socket.MSG_PEEK)
    except BlockingIOError:
        return True
    return False


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
