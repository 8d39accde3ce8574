"""Asking the service one post at a time, as logs are played again: no retries, no deadline, no memory."""

import json
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from service.client.transport import InProcess, OverNetwork, Transport, Unreachable
from service.web.application import create_app
from service.web.json_text import NotJson, parsed
from service.web.settings import SHORTEST_KEY, Settings

WAIT_S = 15.0


class NoAnswer(Exception):
    """The service could not be asked, or failed, or something else answered in its place; says which."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """What came back: a decision, or the problem document of a post that was refused."""

    document: Mapping[str, Any]
    refused: bool


Ask = Callable[[Mapping[str, Any]], Answered]


def over_http(url: str, key: str | None = None) -> Ask:
    """A function that posts to the service at this URL. It raises NoAnswer; a post that is wrong is an answer."""
    return asking(OverNetwork(url, key=key), url)


def in_process() -> Ask:
    """A function that posts to an application of its own, with the limits of the environment. It raises NoAnswer."""
    settings = replace(
        Settings.from_environment(), state_keys=(secrets.token_bytes(SHORTEST_KEY),), keys_file=None, log_level="error"
    )
    return asking(
        InProcess(create_app(settings, warm=False).test_client(use_cookies=False)), "the service in this process"
    )


def asking(transport: Transport, who: str) -> Ask:
    """A function that posts by this way to the service of this name. It raises NoAnswer."""

    def ask(post: Mapping[str, Any]) -> Answered:
        try:
            # A NaN in a log goes out as it stands: the service is to refuse it, and can say where.
            reply = transport.post(json.dumps(post).encode("ascii"), WAIT_S)
        except Unreachable as error:
            raise NoAnswer(f"{who}: {error}") from error
        return _answered(who, reply.status, reply.body)

    return ask


def _answered(who: str, status: int, body: bytes) -> Answered:
    try:
        document = parsed(body)
    except NotJson as error:
        raise NoAnswer(f"{who}: status {status} with a body that is not JSON: is this the service?") from error
    if not isinstance(document, dict) or not ("decision" in document or "detail" in document) or status >= 500:
        raise NoAnswer(f"{who}: status {status}: {document}")
    return Answered(document=document, refused="decision" not in document)
