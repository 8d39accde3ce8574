"""Problem documents (RFC 9457), described; `service.web.problems` writes them."""

from typing import Any

from marshmallow import Schema, fields


def _says(text: str) -> dict[str, Any]:
    return {"description": text}


class WrongSchema(Schema):
    """One thing that is wrong with the input."""

    pointer = fields.String(required=True, metadata=_says("where, as a JSON pointer (RFC 6901) into the body"))
    detail = fields.String(required=True, metadata=_says("what was expected, and what was received"))


class ProblemSchema(Schema):
    """What went wrong, and what to do about it."""

    type = fields.String(
        required=True, metadata=_says("what kind of problem it is: a path at which the remedy is told")
    )
    title = fields.String(required=True, metadata=_says("the kind in a few words"))
    status = fields.Integer(required=True, metadata=_says("the HTTP status"))
    detail = fields.String(required=True, metadata=_says("what is wrong this time"))
    errors = fields.List(fields.Nested(WrongSchema), metadata=_says("what is wrong with the input, 20 things at most"))
    line = fields.Integer(metadata=_says("of a replay: the number of the line"))


class RemedySchema(Schema):
    """A kind of problem."""

    type = fields.String(metadata=_says("its path"))
    title = fields.String(metadata=_says("the kind in a few words"))
    status = fields.Integer(metadata=_says("the HTTP status"))
    remedy = fields.String(metadata=_says("what to do about it"))
