"""How a post travels: over the network, or to an application in this very process. The same bytes go in and out."""

import threading
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from queue import Empty, SimpleQueue
from typing import Protocol

import requests
from flask.testing import FlaskClient

PATH = "/v1/decisions"
MOST_BYTES = 4_000_000
PIECE = 16_384


class Unreachable(Exception):
    """No reply came in time; says what came instead."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """What came back, unread.

    Attributes:
        status: the HTTP status.
        body: the body, whole.
        retry_after_s: how long the sender is asked to wait (s), None where that was not said.
    """

    status: int
    body: bytes
    retry_after_s: float | None = None


class Transport(Protocol):
    """Carries one post to the service and its reply back."""

    def post(self, body: bytes, timeout_s: float) -> Reply:
        """Send a decision request, as JSON, and wait so long for the reply. Raises Unreachable."""


class OverNetwork:
    """The service at a URL. Connections are kept; use one of these for each thread."""

    def __init__(self, url: str, *, key: str | None = None) -> None:
        """`key` is sent as a bearer key where there is one: over the open network the URL must then be https."""
        self._url = url.rstrip("/") + PATH
        self._headers = _headers(key)
        self._session = _direct()

    def post(self, body: bytes, timeout_s: float) -> Reply:
        """As Transport.post. Whatever keeps the reply, be it a name server or one byte a second, the time is kept."""
        replies: SimpleQueue[Reply | Unreachable] = SimpleQueue()
        arguments = (self._session, body, timeout_s, replies)
        threading.Thread(target=self._exchange, args=arguments, name="post", daemon=True).start()
        try:
            reply = replies.get(timeout=timeout_s)
        except Empty:
            # What is still under way keeps the old connections, and ends with them.
            self._session = _direct()
            raise Unreachable(f"no answer within {timeout_s:.3g} s") from None
        if isinstance(reply, Unreachable):
            raise reply
        return reply

    def _exchange(
        self, session: requests.Session, body: bytes, timeout_s: float, replies: SimpleQueue[Reply | Unreachable]
    ) -> None:
        try:
            with session.post(
                self._url, data=body, headers=self._headers, timeout=timeout_s, allow_redirects=False, stream=True
            ) as response:
                content = b"".join(_pieces(response))
        except requests.RequestException as error:
            replies.put(Unreachable(f"no answer ({error})"))
        except Unreachable as error:
            replies.put(error)
        else:
            wish = retry_after_s(response.headers.get("Retry-After"), datetime.now(UTC))
            replies.put(Reply(status=response.status_code, body=content, retry_after_s=wish))


class InProcess:
    """An application in this process, through its test client."""

    def __init__(self, client: FlaskClient, *, key: str | None = None) -> None:
        self._client = client
        self._headers = _headers(key)

    def post(self, body: bytes, timeout_s: float) -> Reply:
        """As Transport.post; it never takes long, and is never unreachable."""
        response = self._client.post(PATH, data=body, headers=self._headers)
        return Reply(
            status=response.status_code,
            body=response.data,
            retry_after_s=retry_after_s(response.headers.get("Retry-After"), datetime.now(UTC)),
        )


def retry_after_s(header: str | None, now: datetime) -> float | None:
    """What a Retry-After header asks for (s): it is a number of seconds or a date (RFC 9110, 10.2.3)."""
    if header is None:
        return None
    if header.strip().isascii() and header.strip().isdigit():
        return float(header)
    try:
        moment = parsedate_to_datetime(header)
    except ValueError:
        return None
    return max(0.0, (moment.astimezone(UTC) - now).total_seconds())


def _headers(key: str | None) -> dict[str, str]:
    headers = {"Content-Type": "application/json", "Accept": "application/json"}
    return headers if key is None else headers | {"Authorization": f"Bearer {key}"}


def _direct() -> requests.Session:
    session = requests.Session()
    # The environment may name a proxy or another account; a service that was named is asked directly and as told.
    session.trust_env = False
    return session


def _pieces(response: requests.Response) -> Iterator[bytes]:
    """The body as it comes. Raises Unreachable for one that is longer than any answer."""
    length = 0
    for piece in response.iter_content(PIECE):
        length += len(piece)
        if length > MOST_BYTES:
            raise Unreachable(f"an answer of over {MOST_BYTES} bytes")
        yield piece
