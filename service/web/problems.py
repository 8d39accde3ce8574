"""What can go wrong, and how it is told: problem documents (RFC 9457). The only table of status codes.

Whoever refuses a request raises Refused with a slug out of this table; what that means over HTTP stands here alone.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from flask import Blueprint, Flask, Response
from marshmallow import ValidationError
from werkzeug.exceptions import HTTPException

from schemas.strict import MOST_MESSAGES
from service.web.json_text import json_response
from service.web.observed import observed

MEDIA_TYPE = "application/problem+json"
LONGEST_NAME = 100


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of problem: its stable name, its status, its title, what to do about it, and the headers it comes with."""

    slug: str
    status: int
    title: str
    remedy: str
    headers: Mapping[str, str] = field(default_factory=dict)

    @property
    def type(self) -> str:
        """Its type URI, at which the remedy can be read."""
        return f"/problems/{self.slug}"


KINDS = (
    Kind("bad-request", 400, "The request cannot be read", "Send a well-formed HTTP request."),
    Kind("not-json", 400, "The body is not JSON", "Send one JSON value in UTF-8, with no name twice in an object."),
    Kind("no-key", 401, "A key is needed", "Send `Authorization: Bearer` with a key that is known here and has not expired.",
         {"WWW-Authenticate": "Bearer"}),
    Kind("wrong-scope", 403, "The key is not for this", "Use a key with the scope that `detail` names.",
         {"WWW-Authenticate": 'Bearer error="insufficient_scope"'}),
    Kind("not-found", 404, "There is nothing here", "Look at the path; GET /v1/programs lists the programmes."),
    Kind("method-not-allowed", 405, "The path does not take this method", "Use a method that the Allow header lists."),
    Kind("body-too-large", 413, "The body is too large", "Post the readings in smaller batches, each with the last state."),
    Kind("line-too-long", 413, "A line of the log is too long", "Split the post on this line into several, a line each."),
    Kind("too-many-lines", 413, "The log has too many lines", "Send what is left to /v1/decisions, post by post."),
    Kind("too-many-cooks", 413, "The log holds too many cooks", "Send fewer, or use the command, which takes any number."),
    Kind("path-too-long", 414, "The path is too long", "Ask for one of the documented paths."),
    Kind("media-type", 415, "The body is of the wrong kind", "Send the media type that the path takes, not compressed."),
    Kind("wrong-input", 422, "The request is well-formed but wrong", "Put right what `errors` points at and post again."),
    Kind("wrong-state", 422, "The state cannot be used", "Return the last state unchanged, or post the whole cook without one."),
    Kind("too-many-requests", 429, "Too many requests", "Wait as long as Retry-After says, then post again.",
         {"Retry-After": "1"}),
    Kind("headers-too-large", 431, "The headers are too large", "Send fewer or shorter headers."),
    Kind("internal", 500, "The service failed", "This is a defect of the service: report it with the request that caused it."),
    Kind("unavailable", 503, "The service cannot answer just now", "Post the same request again in a moment.",
         {"Retry-After": "1"}),
)  # fmt: skip
BY_SLUG: Mapping[str, Kind] = {kind.slug: kind for kind in KINDS}
# Later kinds do not displace earlier ones: the first of a status is its general one.
_BY_STATUS: Mapping[int, Kind] = {kind.status: kind for kind in reversed(KINDS)}


class Refused(Exception):
    """A request that is not taken.

    Attributes:
        kind: which of KINDS it is.
        detail: what was received and what was expected.
        errors: (pointer, detail) for each thing wrong with the input, the first 20 of them.
        headers: what the answer carries beside the headers of its kind.
    """

    def __init__(
        self,
        slug: str,
        detail: str | None = None,
        errors: Iterable[tuple[str, str]] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        """A refusal of the kind `slug`; without a detail of its own, that is the remedy of its kind."""
        self.kind = BY_SLUG[slug]
        self.detail = detail or self.kind.remedy
        super().__init__(self.detail)
        self.errors = tuple(errors)[:MOST_MESSAGES]
        self.headers = {**self.kind.headers, **(headers or {})}

    def document(self) -> dict[str, Any]:
        """The problem document."""
        document = {
            "type": self.kind.type,
            "title": self.kind.title,
            "status": self.kind.status,
            "detail": self.detail,
        }
        if self.errors:
            return document | {"errors": [{"pointer": at, "detail": said} for at, said in self.errors]}
        return document


def wrong_input(pointer: str, detail: str) -> Refused:
    """The refusal of an input in which one thing is wrong."""
    return Refused("wrong-input", f"{pointer or 'the body'}: {detail}", [(pointer, detail)])


def wrong_inputs(error: ValidationError) -> Refused:
    """The refusal of an input that a schema did not take."""
    errors = list(_pointed("", error.messages))
    if len(errors) == 1:
        return wrong_input(*errors[0])
    shown = f"the first {MOST_MESSAGES}" if len(errors) >= MOST_MESSAGES else "all"
    return Refused("wrong-input", f"several things are wrong with the request; errors lists {shown}", errors)


def install(app: Flask) -> None:
    """Make the application answer every error with a problem document, and tell what each kind means."""
    app.register_error_handler(Refused, _of_refusal)
    app.register_error_handler(ValidationError, lambda error: _of_refusal(wrong_inputs(error)))
    app.register_error_handler(HTTPException, _of_http)
    app.register_blueprint(_pages())


def _of_refusal(refused: Refused) -> Response:
    observed().problem = refused.kind.slug
    response = json_response(refused.document(), status=refused.kind.status, media_type=MEDIA_TYPE)
    response.headers.update(refused.headers)
    return response


def _of_http(error: HTTPException) -> Response:
    kind = _BY_STATUS.get(error.code or 500, BY_SLUG["bad-request"])
    said = {name: value for name, value in error.get_headers() if name.lower() in ("allow", "retry-after")}
    return _of_refusal(Refused(kind.slug, headers=said))


def _pages() -> Blueprint:
    blueprint = Blueprint("problems", __name__)

    @blueprint.get("/problems/<slug>")
    def tell(slug: str) -> Response:
        kind = BY_SLUG.get(slug)
        if kind is None:
            raise Refused("not-found", f"no kind of problem has this name; there are: {', '.join(BY_SLUG)}")
        return json_response({"type": kind.type, "title": kind.title, "status": kind.status, "remedy": kind.remedy})

    return blueprint


def _pointed(pointer: str, messages: Any) -> Iterator[tuple[str, str]]:
    """The messages of a schema as (pointer, detail); what concerns a whole object points at the object."""
    if isinstance(messages, str):
        yield pointer, messages
    elif isinstance(messages, list):
        for message in messages:
            yield from _pointed(pointer, message)
    else:
        for key, inner in messages.items():
            if key == "_schema":
                yield from _pointed(pointer, inner)
            elif len(str(key)) > LONGEST_NAME:
                yield pointer, f"there is no such field here, with a name of {len(key)} characters"
            else:
                yield from _pointed(f"{pointer}/{str(key).replace('~', '~0').replace('/', '~1')}", inner)
