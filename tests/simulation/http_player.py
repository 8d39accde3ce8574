"""Play a cook to the whole service in process: the Flask application, its JSON and its state token."""

from collections.abc import Mapping
from typing import Any

from service.web.application import create_app
from tests.simulation.score import DecideLine


def decider_over_http() -> DecideLine:
    """A decider that posts each line to a fresh application. It raises AssertionError on any answer but 200."""
    client = create_app().test_client()

    def decide_line(request: Mapping[str, Any], state: str | None) -> dict[str, Any]:
        response = client.post("/v1/decisions", json={**request, "state": state} if state else dict(request))
        assert response.status_code == 200, response.get_data(as_text=True)
        answer: dict[str, Any] = response.get_json()
        return answer

    return decide_line
