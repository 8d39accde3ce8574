"""The paths: what is asked there, and every way to be answered."""

from typing import Any

from schemas.senml_request import SAID
from service.web.bodies import JSON, NDJSON, SENML
from service.web.problems import KINDS, MEDIA_TYPE
from tests.web.document.examples import Example, asked, client, examples
from tests.web.document.shapes import Shape

ANY_REQUEST = ("bad-request", "not-found", "method-not-allowed", "headers-too-large", "path-too-long", "too-many-requests",
               "internal", "unavailable")  # fmt: skip
GUARDED = ("no-key", "wrong-scope")
WITH_BODY = ("not-json", "body-too-large", "media-type", "wrong-input", "wrong-state")
IN_A_LINE = ("not-json", "line-too-long", "too-many-lines", "wrong-input", "wrong-state")
_OUTSIDE = {
    "start": "when the cook was started: since 1970 from 2^28 on, from now below (s)",
    "as_of": "the moment asked about on the cook clock (s)",
    "interval_pct": "how much probability the interval in the answer shall hold (%)",
    "program": "the programme",
    "setup": "what the caller knows beforehand, as a JSON text",
    "state": "from the last answer, where it is short enough for a query",
}
_TIMES = "Times are seconds on the client's own clock, 0 when the cook was started."


def paths() -> dict[str, dict[str, Shape]]:
    """Every path with its operations."""
    return {
        "/v1/decisions": {"post": _decisions()},
        "/v1/replays": {"post": _replays()},
        "/v1/audits": {"post": _audits()},
        "/v1/calibrations": {"post": _calibrations()},
        "/v1/programs": {"get": _told("The programmes", "ProgrammeList", guarded="any")},
        "/v1/programs/{name}": {
            "get": _told("A programme with every number behind its decisions", "Programme", guarded="any")
            | {"parameters": [_in_path("name", "popcorn", "as GET /v1/programs lists it")]}
        },
        "/problems/{slug}": {
            "get": _told("What to do about a kind of problem", "Remedy")
            | {"parameters": [_in_path("slug", "wrong-input", "the last part of the problem's type")]}
        },
        "/livez": {"get": _small("Whether the process is alive", {"status": "alive"})},
        "/readyz": {
            "get": _small("Whether new requests are welcome; 503 once it is about to stop", {"status": "ready"})
        },
        "/metrics": {"get": _page("Counts, in the text format of Prometheus", "text/plain", guarded="metrics")},
        "/openapi.json": {"get": _page("This description", JSON)},
        "/docs": {"get": _page("This description, for people", "text/html")},
        "/": {"get": _page("A page on which a log is played against the service and drawn", "text/html")},
    }


def problem_responses() -> dict[str, Shape]:
    """A response for each status that a problem can have, with the problems of that status as examples."""
    found: dict[str, Shape] = {}
    for kind in KINDS:
        response = found.setdefault(str(kind.status), {"description": "", "content": {MEDIA_TYPE: _problem({})}})
        response["description"] = f"{response['description']} {kind.title}: {kind.remedy}".strip()
        response["content"][MEDIA_TYPE]["examples"][kind.slug] = {"value": _document(kind)}
        for name, value in kind.headers.items():
            header = {"schema": {"type": "string"}, "example": value}
            response.setdefault("headers", {})[name] = header
    found["405"]["headers"] = {"Allow": {"schema": {"type": "string"}, "example": "OPTIONS, POST"}}
    return {f"Problem{status}": response for status, response in found.items()}


def _decisions() -> Shape:
    mine = {name: one for name, one in examples().items() if one.path == "/v1/decisions"}
    good = {name: one for name, one in mine.items() if one.status == 200}
    bad = {name: one for name, one in mine.items() if one.status != 200}
    outside = [
        {
            "name": name,
            "in": "query",
            "schema": {"type": "string"},
            "description": f"with a SenML pack: {_OUTSIDE[name]}",
        }
        for name in SAID
    ]
    return {
        "operationId": "decide",
        "summary": "Say whether the cook should go on",
        "description": f"{_TIMES} Readings may come late, twice and in any order; the same request gives the same answer."
        " A SenML pack says the same in its own way: the last part of a record's name tells what it is: `humidity` (%RH),"
        " `air` (Cel, at the time of a humidity), `power` (/), and `pop`, `restart` and `start`, which happened (`vb` true, or"
        " `v` 1); `as_of` (s),"
        " `interval_pct`, and the texts `program`, `setup` (JSON) and `state`. All but the readings may stand in the query"
        " instead; a record of any other name is refused. Times from now are placed by `start` or `as_of`, times since 1970"
        " by `start`.",
        "parameters": outside,
        "requestBody": {
            "required": True,
            "content": {
                JSON: {"schema": _ref("DecisionRequest"), "examples": _requests(mine, JSON)},
                SENML: {"schema": _ref("SenmlPack"), "examples": _requests(mine, SENML)},
            },
        },
        **_answered(
            {
                "200": {
                    "description": "The decision",
                    "headers": {"Cache-Control": {"schema": {"type": "string"}, "example": "no-store"}},
                    "content": {
                        JSON: {
                            "schema": {"allOf": [_ref("Decision"), {"required": ["state"]}]},
                            "examples": _answers(good),
                        }
                    },
                },
                "422": {
                    "description": "Well-formed but wrong, or with a state that cannot be used",
                    "content": {MEDIA_TYPE: _problem(_answers(bad))},
                },
            },
            *ANY_REQUEST,
            *GUARDED,
            *WITH_BODY,
        ),
    } | _scope("decide")


def _replays() -> Shape:
    mine = {name: one for name, one in examples().items() if one.path == "/v1/replays"}
    return {
        "operationId": "replay",
        "summary": "Play a log again",
        "description": "Each line is a decision request without a state; the first carries `program` and `setup`. A cook may end"
        " with a line of what was found (`OutcomeLine`), after which another cook may begin. The answer has a line for each"
        " that is not blank, streamed as the log comes: a decision without its state; for an outcome, what follows from it"
        " (`Found`); or, for a line that is wrong, a problem with the number of the line. Nothing after a wrong line is lost."
        f" Problems in a line: {', '.join(IN_A_LINE)}. Read the answer while sending the log: an answer that nobody reads"
        " ends the connection.",
        "requestBody": {
            "required": True,
            "content": {NDJSON: {"schema": {"type": "string"}, "examples": _requests(mine, NDJSON)}},
        },
        **_answered(
            {
                "200": {
                    "description": "An answer a line",
                    "content": {NDJSON: {"schema": {"type": "string"}, "examples": _answers(mine)}},
                }
            },
            *ANY_REQUEST,
            *GUARDED,
            "media-type",
        ),
    } | _scope("replay")


def _audits() -> Shape:
    mine = {name: one for name, one in examples().items() if one.path == "/v1/audits"}
    level = {
        "name": "interval_pct",
        "in": "query",
        "schema": {"type": "number", "minimum": 50, "maximum": 99.9},
        "description": "how much probability the intervals shall hold (%); unsaid, 95",
    }
    return {
        "operationId": "audit",
        "summary": "Audit finished cooks",
        "description": "Many cooks in one log: each begins with the line that carries `program` and ends with the line of its"
        " outcome (`OutcomeLine`). The answer has the shares unpopped and scorched, ovens, bags and policies compared, what each"
        " oven's own control follows, and what other rules would have done. A log with a wrong line is refused as a whole.",
        "parameters": [level],
        "requestBody": {
            "required": True,
            "content": {NDJSON: {"schema": {"type": "string"}, "examples": _requests(mine, NDJSON)}},
        },
        **_answered(
            {
                "200": {
                    "description": "The audit",
                    "headers": {"Cache-Control": {"schema": {"type": "string"}, "example": "no-store"}},
                    "content": {JSON: {"schema": _ref("Audit"), "examples": _answers(mine)}},
                }
            },
            *ANY_REQUEST,
            *GUARDED,
            *IN_A_LINE,
            "too-many-cooks",
            "media-type",
        ),
    } | _scope("replay")


def _calibrations() -> Shape:
    mine = {name: one for name, one in examples().items() if one.path == "/v1/calibrations"}
    return {
        "operationId": "calibrate",
        "summary": "Fit the profile of an oven to its cooks",
        "description": "Popcorn cooks of one oven in one log: each begins with the line that carries `program` and ends with the"
        " line of its outcome (`OutcomeLine`). A good stop is one that is named (`good_stop_s`), that a person made, or that the"
        " counts show to be good. The answer is a profile that `setup.oven` takes as it stands: values drawn towards the"
        " programme's own as far as the cooks are few, each with an interval and the number of cooks behind it, and in `about`"
        " what could not be fitted and why. A log with a wrong line is refused as a whole.",
        "requestBody": {
            "required": True,
            "content": {NDJSON: {"schema": {"type": "string"}, "examples": _requests(mine, NDJSON)}},
        },
        **_answered(
            {
                "200": {
                    "description": "The profile",
                    "headers": {"Cache-Control": {"schema": {"type": "string"}, "example": "no-store"}},
                    "content": {JSON: {"schema": _ref("Profile"), "examples": _answers(mine)}},
                }
            },
            *ANY_REQUEST,
            *GUARDED,
            *IN_A_LINE,
            "too-many-cooks",
            "media-type",
        ),
    } | _scope("replay")


def _requests(mine: dict[str, Example], media_type: str) -> Shape:
    shown = {name: one for name, one in mine.items() if one.media_type == media_type}
    return {
        name: {"summary": one.says, "value": one.value, "x-status": one.status}
        | ({"x-query": one.query} if one.query else {})
        for name, one in shown.items()
    }


def _answers(mine: dict[str, Example]) -> Shape:
    asker = client()
    return {name: {"summary": one.says, "value": asked(asker, one)} for name, one in mine.items()}


def _told(summary: str, schema: str, *, guarded: str | None = None) -> Shape:
    return _read(summary, {JSON: {"schema": _ref(schema)}}, guarded)


def _small(summary: str, value: Shape) -> Shape:
    return _read(summary, {JSON: {"schema": {"type": "object"}, "example": value}}, None)


def _page(summary: str, media_type: str, *, guarded: str | None = None) -> Shape:
    schema = {"type": "object"} if media_type == JSON else {"type": "string"}
    return _read(summary, {media_type: {"schema": schema}}, guarded)


def _read(summary: str, content: Shape, guarded: str | None) -> Shape:
    """An operation without a body."""
    good = {"200": {"description": summary, "content": content}}
    if guarded is None:
        return {"summary": summary, **_answered(good, *ANY_REQUEST)}
    return {"summary": summary, **_answered(good, *ANY_REQUEST, *GUARDED), **_scope(guarded)}


def _in_path(name: str, example: str, says: str) -> Shape:
    return {
        "name": name,
        "in": "path",
        "required": True,
        "schema": {"type": "string"},
        "example": example,
        "description": says,
    }


def _scope(scope: str) -> Shape:
    """A key is needed, unless the service answers whoever asks."""
    return {"security": [{"key": []}, {}], "x-scope": scope}


def _answered(good: Shape, *slugs: str) -> Shape:
    """The responses of an operation: what is answered when all is well, and these problems."""
    statuses = sorted({str(kind.status) for kind in KINDS if kind.slug in slugs})
    problems = {status: {"$ref": f"#/components/responses/Problem{status}"} for status in statuses}
    listed = [kind.slug for kind in KINDS if kind.slug in slugs]
    return {"responses": problems | good, "x-problems": listed}


def _problem(shown: Shape) -> Shape:
    return {"schema": _ref("Problem"), "examples": shown}


def _document(kind: Any) -> Shape:
    return {"type": kind.type, "title": kind.title, "status": kind.status, "detail": kind.remedy}


def _ref(schema: str) -> Shape:
    return {"$ref": f"#/components/schemas/{schema}"}
