"""Requests to look at, and what the service answers to them: asked, not written down."""

import json
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from flask.testing import FlaskClient

from service.web.application import create_app
from service.web.bodies import JSON, NDJSON, SENML
from service.web.settings import Settings

KEY = b"this key signs the examples, and nothing else"


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """A request.

    Attributes:
        says: what it shows, in a few words.
        path, media_type, query: where and how it is posted.
        value: the body: a JSON value, or the text of a log.
        status: how it is answered.
    """

    says: str
    path: str
    media_type: str
    value: Any
    query: dict[str, str] = field(default_factory=dict)
    status: int = 200

    def body(self) -> bytes:
        """The body as it is sent."""
        return (self.value if isinstance(self.value, str) else json.dumps(self.value)).encode()


def client() -> FlaskClient:
    """A client of a service that knows the key of the examples."""
    return create_app(Settings(state_keys=(KEY,), log_level="error")).test_client(use_cookies=False)


def asked(asker: FlaskClient, example: Example) -> Any:
    """The answer: a JSON value, or the text of a log."""
    answer = asker.post(example.path, data=example.body(), content_type=example.media_type, query_string=example.query)
    assert answer.status_code == example.status, (example.says, answer.data)
    return answer.text if answer.mimetype == NDJSON else answer.json


_STEAM = [{"t": t, "rh_pct": 40.0 + min(max(t - 118, 0), 24), "air_c": 35.0} for t in range(0, 150, 3)]


@cache
def examples() -> dict[str, Example]:
    """The examples by name."""
    state = asked(client(), _FIRST)["state"]
    return {
        "first": _FIRST,
        "next": Example(
            says="The next post of the same cook: what was read since, and the state.",
            path="/v1/decisions",
            media_type=JSON,
            value={
                "state": state,
                "as_of": 91.5,
                "readings": {
                    "pops": [90.21, 90.64, 91.02, 91.37],
                    "humidity": [{"t": 91, "rh_pct": 46.5, "air_c": 34.0}],
                },
            },
        ),
        "least": Example(
            says="The least post: a programme.", path="/v1/decisions", media_type=JSON, value={"program": "popcorn"}
        ),
        "reheat": Example(
            says="Food whose steam has come: how long it still takes, and what it could be.",
            path="/v1/decisions",
            media_type=JSON,
            value={"program": "reheat", "setup": {"rated_w": 900}, "as_of": 150, "readings": {"humidity": _STEAM}},
        ),
        "stop": Example(
            says="The longest heating is over.",
            path="/v1/decisions",
            media_type=JSON,
            value={"program": "popcorn", "setup": {"max_heating_s": 120}, "as_of": 120, "interval_pct": 90},
        ),
        "wrong": Example(
            says="Two readings that cannot be.",
            path="/v1/decisions",
            media_type=JSON,
            value={"program": "popcorn", "readings": {"pops": [88.1, -1], "humidity": [{"t": 90, "rh_pct": 120}]}},
            status=422,
        ),
        "altered": Example(
            says="A state that is not as it was handed out.",
            path="/v1/decisions",
            media_type=JSON,
            value={"state": "B" + state[1:], "as_of": 91.5},
            status=422,
        ),
        "from-now": Example(
            says="Times from now, which is the moment of the post: the cook was started 95 s ago.",
            path="/v1/decisions",
            media_type=SENML,
            query={"program": "popcorn"},
            value=[
                {"bn": "urn:dev:ow:10e2073a01080063:", "n": "start", "t": -95, "vb": True},
                {"n": "humidity", "u": "%RH", "t": -1, "v": 44.2},
                {"n": "air", "u": "Cel", "t": -1, "v": 33.1},
                {"n": "pop", "t": -6.9, "vb": True},
                {"n": "pop", "t": -4.6, "vb": True},
                {"n": "pop", "t": -4, "vb": True},
            ],
        ),
        "since-1970": Example(
            says="Times since 1970, and everything else in the pack too.",
            path="/v1/decisions",
            media_type=SENML,
            value=[
                {"bn": "oven/", "bt": 1320067464, "n": "start", "vb": True},
                {"n": "program", "vs": "popcorn"},
                {"n": "setup", "vs": '{"rated_w": 1000, "load_g": 85}'},
                {"n": "as_of", "u": "s", "v": 95},
                {"n": "power", "u": "/", "v": 1},
                {"n": "pop", "t": 88.1, "vb": True},
                {"n": "pop", "t": 90.4, "vb": True},
            ],
        ),
        "brands": Example(
            says="Six bags of two brands, of which only the kernels left were counted.",
            path="/v1/audits",
            media_type=NDJSON,
            value=_BRANDS,
        ),
        "oven": Example(
            says="Four cooks that show the rhythm of the power, and nothing else.",
            path="/v1/calibrations",
            media_type=NDJSON,
            value=_IN_PULSES,
        ),
        "log": Example(
            says="A log of three posts, the second of which is wrong, and what was found when the bag was opened.",
            path="/v1/replays",
            media_type=NDJSON,
            value='{"program": "popcorn", "as_of": 85}\n'
            '{"as_of": 86, "readings": {"pops": ["85.2"]}}\n'
            '{"as_of": 87, "readings": {"pops": [85.2, 86.9]}}\n'
            '{"outcome": {"stopped_s": 141, "stopped_by": "oven", "kernels_left": 23, "kernels_total": 431}}\n',
        ),
    }


_IN_PULSES = (
    '{"program": "popcorn", "as_of": 120, "readings": {"power": ['
    + ", ".join(f'{{"t": {20 * cycle}, "level": 1}}, {{"t": {20 * cycle + 13}, "level": 0}}' for cycle in range(6))
    + "]}}\n"
    '{"outcome": {"stopped_s": 118, "stopped_by": "person"}}\n'
) * 4
_BRANDS = "".join(
    f'{{"program": "popcorn", "setup": {{"load_g": 85}}, "as_of": 0}}\n'
    f'{{"outcome": {{"bag": "{bag}", "trial": {trial}, "kernels_left": {left}, "kernels_total": 430}}}}\n'
    for bag, counts in (("A", (26, 35, 18)), ("B", (47, 47, 14)))
    for trial, left in enumerate(counts, start=1)
)

_FIRST = Example(
    says="The first post of a bag of popcorn.",
    path="/v1/decisions",
    media_type=JSON,
    value={
        "program": "popcorn",
        "setup": {"rated_w": 1000, "load_g": 85, "sensors": ["acoustic", "moisture"]},
        "as_of": 90.0,
        "readings": {
            "pops": [81.3, 84.02, 86.5, 87.7, 88.15, 89.4],
            "humidity": [{"t": 0, "rh_pct": 45.0, "air_c": 22.0}, {"t": 90, "rh_pct": 44.0, "air_c": 33.0}],
            "power": [{"t": 0, "level": 1}],
        },
    },
)
