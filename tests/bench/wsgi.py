"""Requests to an application in this process, with no server and no test client around it."""

import io
import json
from collections.abc import Callable
from typing import Any

from flask import Flask

from service.web.application import create_app
from service.web.settings import Settings

KEY = b"a-key-for-measuring-of-32-bytes-or-more"


def application() -> Flask:
    """The service with a known key, and without a line in the log for each request."""
    return create_app(Settings(state_keys=(KEY,), log_level="error"))


def caller(app: Flask, path: str, sent: bytes, media_type: str = "application/json") -> Callable[[], bytes]:
    """A call that posts these bytes and gives the body of the answer."""

    def call() -> bytes:
        environ = {
            "REQUEST_METHOD": "POST",
            "PATH_INFO": path,
            "SCRIPT_NAME": "",
            "QUERY_STRING": "",
            "SERVER_NAME": "127.0.0.1",
            "SERVER_PORT": "80",
            "SERVER_PROTOCOL": "HTTP/1.1",
            "REMOTE_ADDR": "127.0.0.1",
            "CONTENT_TYPE": media_type,
            "CONTENT_LENGTH": str(len(sent)),
            "wsgi.input": io.BytesIO(sent),
            "wsgi.errors": io.StringIO(),
            "wsgi.url_scheme": "http",
            "wsgi.version": (1, 0),
            "wsgi.multithread": False,
            "wsgi.multiprocess": True,
            "wsgi.run_once": False,
        }
        answer = app(environ, lambda *_: None)
        try:
            return b"".join(answer)
        finally:
            if hasattr(answer, "close"):
                answer.close()

    return call


def answered(call: Callable[[], bytes]) -> dict[str, Any]:
    """The answer as a document. Raises ValueError when it is a problem."""
    document: dict[str, Any] = json.loads(call())
    if "decision" not in document:
        raise ValueError(f"refused: {document}")
    return document
