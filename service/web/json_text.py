"""JSON, strictly: what is read is UTF-8 and has no name twice in an object; what is written has no NaN.

NaN and Infinity are not JSON, yet common libraries write them. They are read as the numbers they mean, so that the
field that refuses them can point at the place.
"""

import json
import re
from codecs import BOM_UTF8
from collections import Counter
from itertools import accumulate
from typing import Any

from service.web.framework import PlainResponse
from service.web.settings import LONGEST_NUMBER

DEEPEST = 16
_LONGEST_QUOTED = 30


class NotJson(ValueError):
    """A text that is not JSON, or not JSON that is taken here; says what is wrong with it."""


def parsed(text: bytes, *, deepest: int = DEEPEST, longest_number: int = LONGEST_NUMBER) -> Any:
    """The value of a JSON text: lists and objects at most `deepest` deep, numbers of `longest_number` characters.

    Raises NotJson.
    """
    if len(text) > longest_number or text.count(b"[") + text.count(b"{") > deepest:
        _refuse_beyond(_STRINGS.sub(b"", text), deepest, longest_number)
    if not text.strip():
        raise NotJson("the text is empty")
    if text.startswith(BOM_UTF8):
        raise NotJson("the text begins with a byte-order mark, which is not part of JSON")
    try:
        return _DECODER.decode(text.decode("utf-8"))
    except NotJson:
        raise
    except UnicodeDecodeError as error:
        raise NotJson(f"the text is not UTF-8 (at byte {error.start})") from error
    except json.JSONDecodeError as error:
        raise NotJson(f"{error.msg} (line {error.lineno}, column {error.colno})") from error


def written(document: Any) -> str:
    """The document on one line, names in the order given. Raises ValueError for a NaN or an infinity."""
    return _ENCODER.encode(document)


def json_response(document: Any, *, status: int = 200, media_type: str = "application/json") -> PlainResponse:
    """A response with this document as its body."""
    return PlainResponse(written(document) + "\n", status=status, content_type=media_type)


def _refuse_beyond(bare: bytes, deepest: int, longest_number: int) -> None:
    """Refuse a JSON text, bare of its strings, that the parser should not be given."""
    steps = map(_STEPS.__getitem__, bare.translate(None, _NO_BRACKETS))
    if max(accumulate(steps), default=0) > deepest:
        raise NotJson(f"lists and objects lie more than {deepest} deep inside each other")
    if any(len(number) > longest_number for number in _NUMBERS.findall(bare)):
        raise NotJson(f"a number has more than {longest_number} characters")


def _without_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    table = dict(pairs)
    if len(table) < len(pairs):
        ((twice, _),) = Counter(name for name, _ in pairs).most_common(1)
        raise NotJson(f"the name {twice[:_LONGEST_QUOTED]!r} stands twice in one object")
    return table


_STRINGS = re.compile(rb'"[^"\\]*(?:\\.[^"\\]*)*"', re.DOTALL)
_NUMBERS = re.compile(rb"[0-9.eE+-]+")
_STEPS = {ord("["): 1, ord("{"): 1, ord("]"): -1, ord("}"): -1}
_NO_BRACKETS = bytes(set(range(256)) - set(_STEPS))
_DECODER = json.JSONDecoder(object_pairs_hook=_without_doubles)
_ENCODER = json.JSONEncoder(allow_nan=False, separators=(",", ":"))
