"""The page at /: a log, or one of the invented cooks that come with the service, played against it and drawn.

Only fixed files are served here. What the page shows it asks /v1/replays for, with a key where one is needed.
"""

import json
from importlib.resources import files
from pathlib import PurePath
from typing import Any

from flask import Blueprint, Response

from service.web.assets import unchanging
from service.web.problems import Refused

CONTENT_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".txt": "text/plain; charset=utf-8",
    ".json": "application/json",
    ".ndjson": "application/x-ndjson",
}
# The page needs nothing but its own parts and the service, may stand in nobody else's, and takes no text for markup.
POLICY = (
    "default-src 'none'; connect-src 'self'; script-src 'self'; style-src 'self'; img-src 'self'; base-uri 'none';"
    " form-action 'none'; frame-ancestors 'none'; require-trusted-types-for 'script'"
)
PAGE = "page.html"
_COOKS = "cooks"
_TRUTH = "-truth.json"


def page() -> Blueprint:
    """The routes of GET / and of the parts of the page."""
    blueprint = Blueprint("page", __name__)
    parts = _parts()

    @blueprint.get("/")
    def show() -> Response:
        response = _told(parts, PAGE)
        response.headers["Content-Security-Policy"] = POLICY
        response.headers["Referrer-Policy"] = "no-referrer"
        return response

    @blueprint.get("/page/<path:name>")
    def show_part(name: str) -> Response:
        if name not in parts or name == PAGE:
            raise Refused("not-found")
        return _told(parts, name)

    return blueprint


def _told(parts: dict[str, bytes], name: str) -> Response:
    return unchanging(parts[name], CONTENT_TYPES[PurePath(name).suffix])


def _parts() -> dict[str, bytes]:
    """The files of the page by name, the invented cooks and the list of them among these."""
    parts = {one.name: one.read_bytes() for one in (files("service.web") / "static" / "page").iterdir()}
    told: list[dict[str, Any]] = []
    for truth in sorted(files("service.demonstration").iterdir(), key=lambda one: one.name.removesuffix(_TRUTH)):
        if truth.name.endswith(_TRUTH):
            name = truth.name.removesuffix(_TRUTH)
            log = f"{_COOKS}/{name}.ndjson"
            parts[log] = (files("service.demonstration") / f"{name}.ndjson").read_bytes()
            told.append({"name": name, "log": f"/page/{log}", **json.loads(truth.read_bytes())})
    parts[f"{_COOKS}.json"] = json.dumps({"cooks": told}, ensure_ascii=False).encode()
    return parts
