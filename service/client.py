"""Asking the service: over HTTP, or the application in this very process. Either way the same bytes go in and out."""

import json
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import requests

from service.web.application import create_app
from service.web.json_text import NotJson, parsed
from service.web.settings import SHORTEST_KEY, Settings

PATH = "/v1/decisions"
WAIT_S = 15.0


class NoAnswer(Exception):
    """The service could not be asked, or failed, or something else answered in its place; says which."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """What came back: a decision, or the problem document of a post that was refused."""

    document: Mapping[str, Any]
    refused: bool


Ask = Callable[[Mapping[str, Any]], Answered]


def over_http(url: str) -> Ask:
    """A function that posts to the service at this URL. It raises NoAnswer; a post that is wrong is an answer."""
    session = requests.Session()
    # The environment may name a proxy; a service that was named is asked directly.
    session.trust_env = False

    def ask(post: Mapping[str, Any]) -> Answered:
        try:
            response = session.post(
                url.rstrip("/") + PATH,
                data=_bytes(post),
                headers={"Content-Type": "application/json"},
                timeout=WAIT_S,
                allow_redirects=False,
            )
        except requests.RequestException as error:
            raise NoAnswer(f"{url}: no answer ({error})") from error
        return _answered(url, response.status_code, response.content)

    return ask


def in_process() -> Ask:
    """A function that posts to an application of its own, with the limits of the environment. It raises NoAnswer."""
    settings = replace(Settings.from_environment(), state_keys=(secrets.token_bytes(SHORTEST_KEY),))
    client = create_app(settings).test_client(use_cookies=False)

    def ask(post: Mapping[str, Any]) -> Answered:
        response = client.post(PATH, data=_bytes(post), content_type="application/json")
        return _answered("the service in this process", response.status_code, response.data)

    return ask


def _bytes(post: Mapping[str, Any]) -> bytes:
    # A NaN in a log goes out as it stands: the service is to refuse it, and can say where.
    return json.dumps(post).encode("ascii")


def _answered(who: str, status: int, body: bytes) -> Answered:
    try:
        document = parsed(body)
    except NotJson as error:
        raise NoAnswer(f"{who}: status {status} with a body that is not JSON: is this the service?") from error
    if not isinstance(document, dict) or not ("decision" in document or "detail" in document) or status >= 500:
        raise NoAnswer(f"{who}: status {status}: {document}")
    return Answered(document=document, refused="decision" not in document)
