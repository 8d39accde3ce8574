"""A log played again: the posts of one cook, a line each, in the order in which they were sent."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from service.client import Ask
from service.web.json_text import NotJson, parsed
from service.web.problems import Refused, wrong_input
from service.web.replays import NO_STATE


@dataclass(frozen=True, slots=True, kw_only=True)
class Replayed:
    """The answer to one line: a decision without its state, or a problem document that gives the line."""

    line: int
    document: Mapping[str, Any]
    refused: bool


def replayed(lines: Iterable[bytes], ask: Ask) -> Iterator[Replayed]:
    """Ask about each line that is not blank, handing the state on from answer to answer.

    A line that is wrong is answered in its place, and what comes after it goes on from the last good line.
    Raises NoAnswer when the service cannot be asked.
    """
    state: dict[str, Any] = {}
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            answer = ask(_post(line) | state)
        except Refused as refused:
            yield Replayed(line=number, document=refused.document() | {"line": number}, refused=True)
            continue
        document = dict(answer.document)
        if answer.refused:
            document["line"] = number
        else:
            state = {"state": document.pop("state")}
        yield Replayed(line=number, document=document, refused=answer.refused)


def _post(line: bytes) -> dict[str, Any]:
    try:
        post = parsed(line)
    except NotJson as error:
        raise Refused("not-json", str(error)) from error
    if not isinstance(post, dict):
        raise wrong_input("", "expected an object")
    if "state" in post:
        raise wrong_input("/state", NO_STATE)
    return post
