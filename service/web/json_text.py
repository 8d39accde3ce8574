"""JSON, strictly: what is read is UTF-8 and has no name twice in an object; what is written has no NaN.

NaN and Infinity are not JSON, yet common libraries write them. They are read as the numbers they mean, so that the
field that refuses them can point at the place.
"""

import json
from typing import Any

from flask import Response


class NotJson(ValueError):
    """A text that is not JSON; says what is wrong with it."""


def parsed(text: bytes) -> Any:
    """The value of a JSON text. Raises NotJson."""
    try:
        return _DECODER.decode(text.decode("utf-8"))
    except NotJson:
        raise
    except UnicodeDecodeError as error:
        raise NotJson(f"the text is not UTF-8 (at byte {error.start})") from error
    except json.JSONDecodeError as error:
        raise NotJson(f"{error.msg} (line {error.lineno}, column {error.colno})") from error
    except RecursionError as error:
        raise NotJson("lists or objects lie too deep inside each other") from error
    except ValueError as error:
        # The interpreter refuses to convert a whole number of thousands of digits.
        raise NotJson("a whole number has too many digits") from error


def written(document: Any) -> str:
    """The document on one line, names in the order given. Raises ValueError for a NaN or an infinity."""
    return _ENCODER.encode(document)


def json_response(document: Any, *, status: int = 200, media_type: str = "application/json") -> Response:
    """A response with this document as its body."""
    return Response(written(document) + "\n", status=status, content_type=media_type)


def _without_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    table = dict(pairs)
    if len(table) < len(pairs):
        raise NotJson("a name stands twice in one object")
    return table


_DECODER = json.JSONDecoder(object_pairs_hook=_without_doubles)
_ENCODER = json.JSONEncoder(allow_nan=False, separators=(",", ":"))
