"""Programmes as they are listed and told."""

from typing import Any

from marshmallow import Schema, fields


def _says(text: str) -> dict[str, Any]:
    return {"description": text}


class ValueSchema(Schema):
    """A number of a programme with its unit, its source, and what it does."""

    value = fields.Float(metadata=_says("the number"))
    unit = fields.String(metadata=_says("its unit, 1 for a ratio or a count"))
    source = fields.String(metadata=_says("a citation, `common practice, no source`, or `invented`"))
    note = fields.String(metadata=_says("what it does"))


class ProgrammeSummarySchema(Schema):
    """A programme in the list."""

    name = fields.String(metadata=_says("as a request names it"))
    summary = fields.String(metadata=_says("one sentence"))
    led_by = fields.List(fields.String(), metadata=_says("the sensors that it listens to"))


class ProgrammeSchema(ProgrammeSummarySchema):
    """A programme with its cautions and every number behind its decisions."""

    cautions = fields.List(fields.String(), metadata=_says("safety sentences that hold for every cook"))
    values = fields.Dict(keys=fields.String(), values=fields.Nested(ValueSchema), metadata=_says("the numbers by name"))


class ProgrammeListSchema(Schema):
    """All the programmes."""

    programs = fields.List(fields.Nested(ProgrammeSummarySchema), metadata=_says("in alphabetical order"))
