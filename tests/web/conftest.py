"""An application with known keys, and the invented cook that comes with the service."""

import json
from collections.abc import Callable
from importlib.resources import files
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.web.clients import client_with

Post = Callable[..., TestResponse]


@pytest.fixture(scope="session")
def client() -> FlaskClient:
    return client_with()


@pytest.fixture(scope="session")
def post(client: FlaskClient) -> Post:
    """Posts a decision request given as its fields, or as bytes."""

    def send(body: bytes | None = None, **fields: Any) -> TestResponse:
        data = json.dumps(fields).encode() if body is None else body
        return client.post("/v1/decisions", data=data, content_type="application/json")

    return send


@pytest.fixture(scope="session")
def log() -> list[dict[str, Any]]:
    """The posts of the invented cook."""
    return [json.loads(line) for line in (files("service.demonstration") / "popcorn.ndjson").read_bytes().splitlines()]
