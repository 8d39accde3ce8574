"""Our own fields and schemas as JSON schemas."""

import inspect
from collections.abc import Callable
from typing import Any

from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin
from marshmallow import fields

from schemas.answer import AnswerSchema, Told
from schemas.audit import AuditSchema
from schemas.calibration import AboutSchema
from schemas.columns import Column, Rows, Times
from schemas.evidence import STATUSES, EvidenceSchema
from schemas.outcome import FOUND, OutcomeLineSchema
from schemas.problem import ProblemSchema, RemedySchema
from schemas.programme import ProgrammeListSchema, ProgrammeSchema
from schemas.request import DecisionRequestSchema
from schemas.senml import VERSION
from schemas.setup import FittedNumber, FittedSchema, Remarks, SensorList
from schemas.strict import Number, OneOf, Text, Whole
from service.programs.programme import SENSORS, shipped
from service.web.settings import Settings

Shape = dict[str, Any]

LIMITS = Settings()
SCHEMAS = {
    "DecisionRequest": DecisionRequestSchema,
    "Fitted": FittedSchema,
    "Decision": AnswerSchema,
    "Evidence": EvidenceSchema,
    "OutcomeLine": OutcomeLineSchema,
    "About": AboutSchema,
    "Audit": AuditSchema,
    "ProgrammeList": ProgrammeListSchema,
    "Programme": ProgrammeSchema,
    "Problem": ProblemSchema,
    "Remedy": RemedySchema,
}
TAKEN = ("DecisionRequest", "Setup", "Readings", "Oven", "Fitted", "Outcome", "OutcomeLine")
_VERDICTS = ["continue", "warn", "stop"]


def described(spec: APISpec, plugin: MarshmallowPlugin) -> None:
    """Add every schema to the description."""
    plugin.converter.add_attribute_function(_shape)
    for name, schema in SCHEMAS.items():
        spec.components.schema(name, schema=schema)
    spec.components.schema("SenmlPack", _senml_pack())
    spec.components.schema("Found", _found())
    spec.components.schema("Profile", _profile())
    schemas = spec.components.schemas
    for key, name in plugin.converter.refs.items():
        schemas[name] = {"description": (inspect.getdoc(key[0]) or "").splitlines()[0], **schemas[name]}
    for name, schema in schemas.items():
        if name not in TAKEN:
            # An answer may come to hold more than is described.
            schema.pop("additionalProperties", None)
    schemas["OutcomeLine"]["required"] = ["outcome"]
    # Said so that generators of clients still know the fields: to some, alternatives of nothing but names are of any type.
    schemas["DecisionRequest"] |= {"if": {"not": {"required": ["state"]}}, "then": {"required": ["program"]}}
    named = {"type": "string", "enum": sorted(shipped())}
    schemas["DecisionRequest"]["properties"]["program"]["anyOf"] = [named, {"$ref": "#/components/schemas/Programme"}]
    for name in ("Programme", "Value"):
        schemas[name]["required"] = list(schemas[name]["properties"])
    decision = schemas["Decision"]
    decision["required"] = [name for name in decision["properties"] if name != "state"]
    decision["properties"]["decision"]["enum"] = _VERDICTS
    decision["properties"]["evidence"] = {"$ref": "#/components/schemas/Evidence"}
    for name in ("Reason", "Remaining", "Acoustic", "Moisture", "Heating", "Estimate", "Evidence"):
        _require_all(schemas[name])
    for name in ("Acoustic", "Moisture", "Heating"):
        schemas[name]["properties"]["status"]["enum"] = list(STATUSES)
    schemas["Acoustic"]["required"] = ["status", "pops"]
    schemas["Moisture"]["required"] = ["status", "vapour_g_m3"]
    schemas["Heating"]["required"].remove("heat_in_kj")


def senml_record() -> Shape:
    """A record of a SenML pack; labels that are not listed are passed over."""
    text, number = {"type": "string"}, {"type": "number"}
    said = {
        "bn": text | {"description": "beginning of the names from here on"},
        "bt": number | {"description": "added to the times from here on (s)"},
        "bu": text | {"description": "unit where a record has none, from here on"},
        "bv": number | {"description": "added to the values from here on"},
        "bs": number | {"description": "added to the sums from here on"},
        "bver": {"type": "integer", "minimum": 1, "maximum": VERSION, "description": "version of the format"},
        "n": text | {"description": "name; its last part after `:`, `/` or `.` says what was measured"},
        "u": text | {"description": "unit"},
        "v": number | {"description": "value, if a number"},
        "vs": text | {"description": "value, if a text"},
        "vb": {"type": "boolean", "description": "value, if true or false"},
        "vd": text | {"description": "value, if binary data, in base64"},
        "s": number | {"description": "value integrated over time"},
        "t": number | {"description": "time: from now, or since 1970 from 2^28 on (s)"},
        "ut": number | {"description": "seconds until the next record"},
    }
    return {"type": "object", "properties": said}


def _senml_pack() -> Shape:
    about = "Readings as a SenML pack (RFC 8428), resolved by the rules of section 4.6."
    return {"type": "array", "description": about, "items": senml_record()}


def _profile() -> Shape:
    """The answer to the logs of an oven."""
    about = {"properties": {"about": {"$ref": "#/components/schemas/About"}}, "required": ["about"]}
    says = "An oven profile with what there is to say about it; `setup.oven` takes it as it stands."
    return {"description": says, "allOf": [{"$ref": "#/components/schemas/Oven"}, about]}


def _found() -> Shape:
    """The answer to the line of an outcome."""
    shares = {name: {"type": "number", "description": says} for name, says in FOUND.items()}
    outcome = {"$ref": "#/components/schemas/Outcome"}
    found = {"type": "object", "properties": shares, "description": "what follows from it, as far as it does"}
    about = "What was found when a cook was over, and what follows from it."
    return {
        "type": "object",
        "description": about,
        "properties": {"outcome": outcome, "found": found},
        "required": ["outcome", "found"],
    }


def _require_all(schema: Shape) -> None:
    optional = {"value", "limit", "unit"}
    schema["required"] = [name for name in schema["properties"] if name not in optional]


def _shape(_: Any, field: fields.Field[Any], **__: Any) -> Shape:
    """The JSON schema of one of our own fields; nothing for the library's."""
    for kind, shape in _SHAPES.items():
        if isinstance(field, kind):
            return shape(field)
    return {}


def _number(field: Number) -> Shape:
    return {"type": "number", "minimum": field.low, "maximum": field.high} | _unit(field.unit)


def _whole(field: Whole) -> Shape:
    return _number(field) | {"type": "integer"}


def _one_of(field: OneOf) -> Shape:
    return {"type": "string", "enum": list(field.words)}


def _unit(unit: str) -> Shape:
    return {"x-unit": unit} if unit else {}


def _column(column: Column) -> Shape:
    bounds = {"type": "number", "minimum": column.low, "maximum": column.high, "description": column.says}
    return bounds | _unit(column.unit)


def _rows(field: Rows) -> Shape:
    row = {
        "type": "object",
        "properties": {column.key: _column(column) for column in field.columns},
        "required": [column.key for column in field.columns if not column.optional],
        "additionalProperties": False,
    }
    return {"type": "array", "maxItems": LIMITS.max_readings_per_post, "items": row}


def _times(_: Times) -> Shape:
    time = {"type": "number", "minimum": 0.0, "maximum": 7200.0, "x-unit": "s"}
    return {"type": "array", "maxItems": LIMITS.max_readings_per_post, "items": time}


def _fitted(field: FittedNumber) -> Shape:
    fitted = {
        "allOf": [
            {"$ref": "#/components/schemas/Fitted"},
            {"properties": {"value": {"minimum": field.number.low, "maximum": field.number.high}}},
        ]
    }
    return {"anyOf": [_number(field.number), fitted]}


def _sensors(_: SensorList) -> Shape:
    names = {"type": "string", "enum": list(SENSORS)}
    return {"type": "array", "items": names, "minItems": 1, "maxItems": len(SENSORS), "uniqueItems": True}


def _text(field: Text) -> Shape:
    return {"type": "string", "minLength": 1, "maxLength": min(field.longest, LIMITS.max_state_characters)}


def _told(field: Told) -> Shape:
    shape: Shape = {"type": [field.kind, "null"] if field.allow_none else field.kind}
    return shape | ({"items": {"type": "string"}} if field.kind == "array" else {})


_SHAPES: dict[type, Callable[[Any], Shape]] = {
    Whole: _whole,
    Number: _number,
    OneOf: _one_of,
    Rows: _rows,
    Times: _times,
    FittedNumber: _fitted,
    SensorList: _sensors,
    Remarks: lambda _: {"type": "object"},
    Text: _text,
    Told: _told,
}
