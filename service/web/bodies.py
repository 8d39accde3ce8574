"""Reading the body of a request: its media type, its size, its JSON."""

from typing import Any

from flask import request
from gunicorn.http.errors import ParseException

from service.web.json_text import NotJson, parsed
from service.web.problems import Refused


def json_body() -> Any:
    """The JSON value of the request at hand.

    Raises Refused for a compressed body, for any media type but application/json in UTF-8, and for a text that is not
    JSON, and for a body over the limit (the framework's own RequestEntityTooLarge when the length was said).
    """
    encoding = request.headers.get("Content-Encoding", "identity")
    if encoding.strip().lower() != "identity":
        raise Refused("media-type", f"expected a body that is not compressed; received Content-Encoding {encoding!r}")
    charset = request.mimetype_params.get("charset", "utf-8")
    if request.mimetype != "application/json" or charset.lower() not in ("utf-8", "utf8", "us-ascii"):
        sent = request.headers.get("Content-Type")
        raise Refused("media-type", f"expected application/json in UTF-8; received {sent or 'no Content-Type'}")
    try:
        return parsed(_whole_body())
    except NotJson as error:
        raise Refused("not-json", str(error)) from error


def _whole_body() -> bytes:
    """The body, or a refusal: a body that was cut off on its way must not be taken for a shorter one."""
    try:
        body = request.get_data(cache=False)
    except ParseException as error:
        raise Refused("bad-request", f"the chunks of the body cannot be read: {error}") from error
    said, most = request.content_length, request.max_content_length
    if said is not None and said != len(body):
        raise Refused("bad-request", f"the body ended after {len(body)} of {said} bytes")
    # A body in chunks is cut off at the limit without a word; one that reaches it may have been longer.
    if said is None and most is not None and len(body) >= most:
        raise Refused("body-too-large", f"expected fewer than {most} bytes in a body whose length is not said")
    return body
