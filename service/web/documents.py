"""The description of the API for machines (OpenAPI 3.1), and a page that shows it to people, with no outside network."""

import hashlib
from importlib.resources import files

from flask import Blueprint, Response, request

from service.web.problems import Refused

PAGE = {"docs.html": "text/html; charset=utf-8", "docs.css": "text/css; charset=utf-8", "docs.js": "text/javascript"}
# The page needs nothing but itself and the description, and nothing may be slipped into it.
POLICY = (
    "default-src 'none'; connect-src 'self'; script-src 'self'; style-src 'self'; base-uri 'none'; form-action 'none'"
)


def documents() -> Blueprint:
    """The routes of GET /openapi.json and GET /docs."""
    blueprint = Blueprint("documents", __name__)
    description = (files("schemas") / "openapi.json").read_bytes()
    parts = {name: (files("service.web") / "static" / name).read_bytes() for name in PAGE}

    @blueprint.get("/openapi.json")
    def describe() -> Response:
        return _unchanging(description, "application/json")

    @blueprint.get("/docs")
    def show() -> Response:
        response = _unchanging(parts["docs.html"], PAGE["docs.html"])
        response.headers["Content-Security-Policy"] = POLICY
        return response

    @blueprint.get("/docs/<name>")
    def show_part(name: str) -> Response:
        if name not in parts:
            raise Refused("not-found")
        return _unchanging(parts[name], PAGE[name])

    return blueprint


def _unchanging(content: bytes, content_type: str) -> Response:
    """The content, or 304 for a client that has it."""
    response = Response(content, content_type=content_type)
    response.set_etag(hashlib.sha256(content).hexdigest()[:32])
    response.headers["Cache-Control"] = "no-cache"
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.make_conditional(request)
    return response
