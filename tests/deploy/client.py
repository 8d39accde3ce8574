"""A hub as it should behave: it posts a cook, brings the state back each time, and posts again what was not answered."""

import json
import socket
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from http.client import HTTPConnection, HTTPException, HTTPSConnection
from time import monotonic
from typing import Any

from tests.deploy.front import HOST, Front
from tests.deploy.processes import LOOPBACK
from tests.simulation.network import Post

PATH = "/v1/decisions"
WAIT_S = 20.0
RETRY_AFTER_S = 0.1
GIVE_UP_S = 30.0
# Not this time, but perhaps the next: too many requests, and a server that is gone or going.
PASSING = frozenset({429, 502, 503, 504})


class Lost(Exception):
    """A post that was never answered, or was refused; says how."""


class Client:
    """One hub with one connection, which it opens anew when it breaks.

    Attributes:
        took_s: how long each answered post took, tries that failed included.
        retries: posts that had to be sent again.
        broken: those of them that a server had begun to listen to; the others met none, or one that put them off.
    """

    def __init__(self, port: int, *, front: Front | None = None, key: str = "", source: str | None = None) -> None:
        """A hub that asks at a port of this machine, through TLS where a front is given, from an address of this machine."""
        if front is None:
            self._connection = HTTPConnection(LOOPBACK, port, timeout=WAIT_S, source_address=_bound(source))
        else:
            self._connection = _FrontConnection(front, source)
        self._headers = {"Content-Type": "application/json", "Host": HOST}
        if key:
            self._headers["Authorization"] = f"Bearer {key}"
        self.took_s: list[float] = []
        self.retries = 0
        self.broken = 0

    def post(self, body: bytes) -> bytes:
        """The answer to this post. Raises Lost when it is refused, or is not answered however often it is sent."""
        begun_s = monotonic()
        while monotonic() < begun_s + GIVE_UP_S:
            broke_off = False
            try:
                status, answer = self.post_once(body)
            except (OSError, HTTPException) as error:
                status, answer, broke_off = None, str(error).encode(), not isinstance(error, ConnectionRefusedError)
            if status == 200:
                self.took_s.append(monotonic() - begun_s)
                return answer
            if status not in {None, *PASSING}:
                raise Lost(f"status {status}: {answer.decode()}")
            self.retries += 1
            self.broken += broke_off
            threading.Event().wait(RETRY_AFTER_S)
        raise Lost(f"no answer in {GIVE_UP_S:g} s; the last try: status {status}: {answer.decode()}")

    def post_once(self, body: bytes) -> tuple[int, bytes]:
        """Status and body of the answer. Raises OSError or HTTPException when the connection breaks."""
        try:
            self._connection.request("POST", PATH, body, self._headers)
            response = self._connection.getresponse()
            return response.status, response.read()
        except (OSError, HTTPException):
            self._connection.close()
            raise

    def cook(self, log: Sequence[Post]) -> list[bytes]:
        """The answers to a whole cook, one for each post. Raises Lost."""
        answers: list[bytes] = []
        state: dict[str, Any] = {}
        for post in log:
            answers.append(self.post(json.dumps({**post, **state}).encode()))
            state = {"state": json.loads(answers[-1])["state"]}
        return answers

    def close(self) -> None:
        """Hang up."""
        self._connection.close()

    def __enter__(self) -> "Client":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


@contextmanager
def front_connection(front: Front, source: str | None = None) -> Iterator[HTTPSConnection]:
    """A connection from an address of this machine to the front, which has to show its certificate."""
    connection = _FrontConnection(front, source)
    try:
        yield connection
    finally:
        connection.close()


class _FrontConnection(HTTPSConnection):
    def __init__(self, front: Front, source: str | None) -> None:
        self._trusting = front.trusting()
        self._source = source
        super().__init__(HOST, front.port, timeout=WAIT_S, context=self._trusting)

    def connect(self) -> None:
        """Connect to this machine, whatever the name stands for."""
        plain = socket.create_connection((LOOPBACK, self.port), WAIT_S, _bound(self._source))
        # Headers and body go out in two writes: the second must not wait for the first to be acknowledged.
        plain.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self.sock = self._trusting.wrap_socket(plain, server_hostname=HOST)


def _bound(source: str | None) -> tuple[str, int] | None:
    """Where a connection comes from. Nobody asks for an address without need: the ports of those who do are those of servers."""
    return None if source is None else (source, 0)
