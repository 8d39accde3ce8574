"""Applications to hold the service against: a bare Flask route, and one that reads the same JSON."""

from flask import Flask, Response, request


def bare() -> Flask:
    """A route that answers two bytes and reads nothing."""
    app = Flask(__name__, static_folder=None)

    @app.post("/v1/decisions")
    def answer() -> Response:
        return Response("{}", content_type="application/json")

    return app


def reading() -> Flask:
    """A route that parses the body as JSON, and answers two bytes."""
    app = Flask(__name__, static_folder=None)

    @app.post("/v1/decisions")
    def answer() -> Response:
        request.get_json()
        return Response("{}", content_type="application/json")

    return app
