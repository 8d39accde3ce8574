"""Reading the body of a request: its media type, its size, its lines."""

from collections.abc import Callable, Iterator
from functools import lru_cache

from flask import request
from gunicorn.http.errors import ParseException
from werkzeug.exceptions import ClientDisconnected
from werkzeug.http import parse_options_header

from service.web.problems import Refused

JSON = "application/json"
SENML = "application/senml+json"
NDJSON = "application/x-ndjson"

# The server waits until it has a whole piece: the smaller it is, the less an answer lags behind its line.
_PIECE = 1024
_CHARSETS = ("utf-8", "utf8", "us-ascii")


def media_type(*taken: str) -> str:
    """The media type of the body, which is one of these. Raises Refused for another, or for a compressed body."""
    environ = request.environ
    encoding = environ.get("HTTP_CONTENT_ENCODING", "identity")
    if encoding.strip().lower() != "identity":
        raise Refused("media-type", f"expected a body that is not compressed; received Content-Encoding {encoding!r}")
    sent = environ.get("CONTENT_TYPE", "")
    kind, charset = _parted(sent)
    if kind not in taken or charset not in _CHARSETS:
        raise Refused("media-type", f"expected {' or '.join(taken)} in UTF-8; received {sent or 'no Content-Type'}")
    return kind


def whole_body(most: int) -> bytes:
    """The body, of `most` bytes at most. Raises Refused for a longer one, and for one that was cut off on its way."""
    environ = request.environ
    said = environ.get("CONTENT_LENGTH", "")
    if "HTTP_TRANSFER_ENCODING" in environ or not (said.isascii() and said.isdigit()):
        return _body_in_chunks(most)
    # A length of very many digits cannot even be converted.
    length = int(said[:20])
    if length > most:
        raise Refused("body-too-large", f"expected {most} bytes at most; received {said[:20]}")
    body = _read(environ["wsgi.input"].read, length)
    if len(body) < length:
        raise Refused("bad-request", f"the body ended after {len(body)} of {said} bytes")
    return body


def lines(most: int) -> Iterator[bytes | None]:
    """The lines of the body as they come, without their ends; None for a line of over `most` bytes.

    No more than a line and a piece is held at a time. Raises Refused when the body cannot be read to its end.
    """
    request.max_content_length = None
    held, is_too_long = b"", False
    while True:
        piece = _read(request.stream.read, _PIECE)
        if not piece:
            break
        first, *rest = piece.split(b"\n")
        held += first
        for line in rest:
            yield None if is_too_long or len(held) > most else held
            held, is_too_long = line, False
        if len(held) > most:
            held, is_too_long = b"", True
    if held or is_too_long:
        yield None if is_too_long else held


def _body_in_chunks(most: int) -> bytes:
    """A body whose length is not said: it must not be cut off at the limit and taken for a shorter one."""
    # At the limit it is cut off without a word, so one byte more is let in to tell.
    request.max_content_length = most + 1
    body = _read(request.stream.read, -1)
    if len(body) > most:
        raise Refused("body-too-large", f"expected {most} bytes at most")
    return body


def _read(read: Callable[[int], bytes], most: int) -> bytes:
    """What is read of the body. Raises Refused where it cannot be."""
    try:
        return read(most)
    except ParseException as error:
        raise Refused("bad-request", f"the chunks of the body cannot be read: {error}") from error
    except (OSError, ClientDisconnected) as error:
        raise Refused("bad-request", "the body stopped coming before its end") from error


@lru_cache(maxsize=64)
def _parted(content_type: str) -> tuple[str, str]:
    """The media type and the character set, in lower case."""
    kind, options = parse_options_header(content_type)
    return kind.lower(), options.get("charset", "utf-8").lower()
