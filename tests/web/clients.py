"""Clients of an application with known keys, and posts made of other posts."""

from typing import Any

from flask.testing import FlaskClient

from service.web.application import create_app
from service.web.settings import Settings

KEY = b"a key for tests, of 32 bytes or more"


def client_with(**settings: Any) -> FlaskClient:
    """A client of an application with these settings; the key is KEY unless said."""
    return create_app(Settings(**{"state_keys": (KEY,), **settings})).test_client()


def whole(posts: list[dict[str, Any]]) -> dict[str, list[Any]]:
    """All the readings of some posts together."""
    kinds = ("pops", "humidity", "power", "restarts")
    return {kind: [reading for post in posts for reading in post["readings"].get(kind, [])] for kind in kinds}
