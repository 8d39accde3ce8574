"""Whether the process is alive, over HTTP."""

from flask import Blueprint, Response

from service.web.json_text import json_response

health = Blueprint("health", __name__)


@health.get("/livez")
def live() -> Response:
    """Answers as soon as the process can answer at all."""
    return json_response({"status": "alive"})
