"""The description of the API for machines (OpenAPI 3.1), and a page that shows it to people, with no outside network."""

from importlib.resources import files

from flask import Blueprint, Response

from service.web.assets import unchanging
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
        return unchanging(description, "application/json")

    @blueprint.get("/docs")
    def show() -> Response:
        response = unchanging(parts["docs.html"], PAGE["docs.html"])
        response.headers["Content-Security-Policy"] = POLICY
        return response

    @blueprint.get("/docs/<name>")
    def show_part(name: str) -> Response:
        if name not in parts:
            raise Refused("not-found")
        return unchanging(parts[name], PAGE[name])

    return blueprint
