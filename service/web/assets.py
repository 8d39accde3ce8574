"""Content that stays the same while the service runs, as it is served: whoever has it is not sent it again."""

import hashlib

from flask import Response, request


def unchanging(content: bytes, content_type: str) -> Response:
    """The content, or 304 for a client that has it."""
    response = Response(content, content_type=content_type)
    response.set_etag(hashlib.sha256(content).hexdigest()[:32])
    response.headers["Cache-Control"] = "no-cache"
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.make_conditional(request)
    return response
