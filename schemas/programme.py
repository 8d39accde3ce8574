"""Programmes as they are listed and told."""

from marshmallow import Schema, fields


class ValueSchema(Schema):
    """A number of a programme with its unit, its source, and what it does."""

    value = fields.Float()
    unit = fields.String()
    source = fields.String()
    note = fields.String()


class ProgrammeSummarySchema(Schema):
    """A programme in the list."""

    name = fields.String()
    summary = fields.String()
    led_by = fields.List(fields.String())


class ProgrammeSchema(ProgrammeSummarySchema):
    """A programme with its cautions and every number behind its decisions."""

    cautions = fields.List(fields.String())
    values = fields.Dict(keys=fields.String(), values=fields.Nested(ValueSchema))
