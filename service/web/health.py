"""Whether the process is alive, and whether it is the one to ask, over HTTP."""

from flask import Blueprint, Response, request

from service.web.json_text import json_response
from service.web.problems import Refused

DRAINING = "cookstop.draining"
"""Where a worker says in the environment of a request that it was told to stop."""

health = Blueprint("health", __name__)


@health.get("/livez")
def live() -> Response:
    """Answers as soon as the process can answer at all."""
    return json_response({"status": "alive"})


@health.get("/readyz")
def ready() -> Response:
    """Answers while new requests are welcome."""
    if request.environ.get(DRAINING, False):
        raise Refused("unavailable", "this server is about to stop; ask another")
    return json_response({"status": "ready"})
