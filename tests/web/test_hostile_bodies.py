"""Whatever is posted, the service answers, and the answer is well-formed."""

import json
import math
from time import process_time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

NUMBERS = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True),
    st.integers(),
    st.floats(0, 7200),
    st.sampled_from([0, -0.0, 7200, 7200.0005, 1e308, 10**400, 2**63, 1e-320]),
)
SCALARS = st.one_of(st.none(), st.booleans(), NUMBERS, st.text(max_size=8))
ANYTHING = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=6), inner, max_size=4),
    max_leaves=12,
)
TIMES = st.lists(st.one_of(st.floats(0, 7200), NUMBERS), max_size=8)


def objects(*keys):
    return st.fixed_dictionaries({}, optional={key: st.one_of(st.floats(0, 100), SCALARS) for key in keys})


READINGS = st.fixed_dictionaries(
    {},
    optional={
        "pops": TIMES | ANYTHING,
        "humidity": st.lists(objects("t", "rh_pct", "air_c"), max_size=5) | ANYTHING,
        "power": st.lists(objects("t", "level"), max_size=5) | ANYTHING,
        "restarts": TIMES | ANYTHING,
    },
)
SETUP = objects("rated_w", "load_g", "gap_s", "sensors", "max_heating_s", "oven", "site_altitude_m")
POSTS = st.fixed_dictionaries(
    {"program": st.just("popcorn") | SCALARS},
    optional={
        "setup": SETUP | ANYTHING,
        "readings": READINGS | ANYTHING,
        "as_of": NUMBERS | ANYTHING,
        "interval_pct": NUMBERS,
        "state": st.text(max_size=80) | ANYTHING,
    },
)
TAKEN = st.fixed_dictionaries(
    {"program": st.just("popcorn")},
    optional={
        "as_of": st.floats(0, 7200),
        "setup": st.fixed_dictionaries(
            {},
            optional={
                "rated_w": st.floats(100, 3000),
                "load_g": st.floats(5, 5000),
                "gap_s": st.floats(0.5, 10),
                "max_heating_s": st.floats(10, 7200),
                "sensors": st.sampled_from([["acoustic"], ["moisture"], ["moisture", "acoustic"]]),
                "site_altitude_m": st.floats(-500, 6000),
                "oven": st.fixed_dictionaries(
                    {},
                    optional={
                        "steam_ratio": st.floats(1, 10),
                        "steam_ratio_spread": st.floats(0.001, 2),
                        "sensor_delay_s": st.floats(0, 120),
                        "sensor_lag_s": st.floats(0, 120),
                        "dead_time_s": st.floats(0, 1),
                        "clutter_per_s": st.floats(0, 10),
                        "power_share": st.floats(0.05, 1.5),
                        "duty_cycle": st.floats(0.05, 1),
                    },
                ),
            },
        ),
        "readings": st.fixed_dictionaries(
            {},
            optional={
                "pops": st.lists(st.floats(0, 7200) | st.floats(60, 120), max_size=60),
                "humidity": st.lists(
                    st.fixed_dictionaries(
                        {"t": st.floats(0, 7200) | st.floats(0, 200), "rh_pct": st.floats(0, 100)},
                        optional={"air_c": st.floats(-50, 300)},
                    ),
                    max_size=40,
                ),
                "power": st.lists(
                    st.fixed_dictionaries({"t": st.floats(0, 7200) | st.floats(0, 200), "level": st.floats(0, 1)}),
                    max_size=12,
                ),
                "restarts": st.lists(st.floats(0, 7200), max_size=4),
            },
        ),
        "interval_pct": st.floats(50, 98),
    },
)


def refuse_constant(name):
    raise AssertionError(f"the answer holds {name}")


def assert_is_well_formed(response):
    assert response.status_code in (200, 400, 422), response.data
    document = json.loads(response.data, parse_constant=refuse_constant)
    if response.status_code == 200:
        assert document["decision"] in ("continue", "warn", "stop")
        assert math.isfinite(document["stop_by_s"])
        assert document["reasons"]
    else:
        assert response.content_type == "application/problem+json"
        assert document["status"] == response.status_code
        assert len(document.get("errors", [])) <= 20


@given(body=st.binary(max_size=200))
@settings(max_examples=200, deadline=None)
def test_any_bytes(post, body):
    assert_is_well_formed(post(body))


@given(value=ANYTHING)
@settings(max_examples=200, deadline=None)
def test_any_json(post, value):
    assert_is_well_formed(post(json.dumps(value).encode()))


@given(request=POSTS)
@settings(max_examples=200, deadline=None)
def test_posts_of_the_right_shape_with_wrong_values(post, request):
    assert_is_well_formed(post(json.dumps(request).encode()))


@given(request=TAKEN)
@settings(max_examples=150, deadline=None)
def test_every_post_that_is_well_formed_is_decided(post, request):
    response = post(json.dumps(request).encode())
    assert_is_well_formed(response)
    assert response.status_code == 200, response.data


@given(request=TAKEN, readings=TAKEN.map(lambda post: post.get("readings", {})))
@settings(max_examples=150, deadline=None)
def test_every_cook_goes_on_from_its_state(post, request, readings):
    first = post(json.dumps(request).encode()).json
    again = post(state=first["state"], readings=readings, as_of=max(first["as_of"], 300.0))
    assert_is_well_formed(again)
    assert again.status_code == 200, again.data


def deep(opening, closing, depth):
    return opening * depth + closing * depth


HOSTILE = {
    "random bytes": bytes((at * 197 + 31) % 256 for at in range(5000)),
    "null bytes": bytes(5000),
    "lists 100,000 deep": deep(b"[", b"]", 100_000),
    "lists 100,000 deep, never closed": b"[" * 100_000,
    "objects 50,000 deep": deep(b'{"a":', b"}", 50_000)[:-50_000],
    "lists 500 deep in the setup": b'{"program": "popcorn", "setup": ' + deep(b"[", b"]", 500) + b"}",
    "a whole number of 200,000 digits": b'{"as_of": ' + b"9" * 200_000 + b"}",
    "a fraction of 200,000 digits": b'{"as_of": 0.' + b"9" * 200_000 + b"}",
    "an exponent of 200,000 digits": b'{"as_of": 1e' + b"9" * 200_000 + b"}",
    "1e308 twice": b'{"program": "popcorn", "readings": {"pops": [1e308, 1e308]}}',
    "minus zero": b'{"program": "popcorn", "readings": {"pops": [-0.0, -0, 0]}, "as_of": -0.0}',
    "NaN": b'{"program": "popcorn", "as_of": NaN}',
    "infinities": b'{"program": "popcorn", "readings": {"pops": [Infinity, -Infinity]}}',
    "an infinite setup": b'{"program": "popcorn", "setup": {"rated_w": Infinity, "gap_s": NaN}}',
    "a name twice": b'{"program": "popcorn", "program": "popcorn"}',
    "10,000 names": b"{" + b",".join(b'"name%d": 1' % at for at in range(10_000)) + b"}",
    "10,000 wrong pops": b'{"program": "popcorn", "readings": {"pops": [' + b'"x",' * 9_999 + b'"x"]}}',
    "5,000 wrong objects": b'{"program": "popcorn", "readings": {"humidity": [' + b"{}," * 4_999 + b"{}]}}",
    "wrong names in 1,000 objects": b'{"program": "popcorn", "readings": {"power": ['
    + b'{"t": 1, "level": 1, "a": 1, "b": 2},' * 999
    + b'{"a": 1}]}}',
    "a name of 100,000 characters": b'{"' + b"x" * 100_000 + b'": 1}',
    "a programme of 100,000 characters": b'{"program": "' + b"x" * 100_000 + b'"}',
    "a state of 200,000 characters": b'{"state": "' + b"x" * 200_000 + b'"}',
    "half a surrogate": b'{"program": "\\ud800", "state": "\\udfff"}',
    "UTF-16": '{"program": "popcorn"}'.encode("utf-16"),
    "UTF-32": '{"program": "popcorn"}'.encode("utf-32-le"),
    "Latin-1": '{"program": "pöpcorn"}'.encode("latin-1"),
    "UTF-8 that is too long": b'{"program": "\xc0\xaf"}',
    "a byte-order mark": b'\xef\xbb\xbf{"program": "popcorn"}',
    "two values": b'{"program": "popcorn"} {"program": "popcorn"}',
    "a comment": b'{"program": "popcorn"} // please',
    "single quotes": b"{'program': 'popcorn'}",
    "backslashes without end": b'{"program": "' + b"\\" * 99_999,
    "quotes without end": b'"' * 99_999,
    "200,000 spaces": b" " * 200_000,
    "strings of brackets": b'["' + b"[" * 100_000 + b'"]',
}
SLOWEST_MS = 500.0


@pytest.mark.parametrize("body", HOSTILE.values(), ids=HOSTILE)
@pytest.mark.parametrize("content_type", ["application/json", "application/senml+json"])
def test_hostile_body_is_answered_soon_and_in_few_words(client, body, content_type):
    # Of the processor, since other work on the machine says nothing about the body.
    begun_s = process_time()
    response = client.post("/v1/decisions", data=body, content_type=content_type)
    took_ms = 1e3 * (process_time() - begun_s)
    assert_is_well_formed(response)
    assert took_ms < SLOWEST_MS
    assert len(response.data) < 10_000


@given(
    lines=st.lists(
        st.binary(max_size=60) | ANYTHING.map(json.dumps).map(str.encode) | POSTS.map(json.dumps).map(str.encode)
    )
)
@settings(max_examples=100, deadline=None)
def test_any_log(client, lines):
    body = b"\n".join(lines)
    response = client.post("/v1/replays", data=body, content_type="application/x-ndjson")
    answers = [json.loads(line, parse_constant=refuse_constant) for line in response.data.splitlines()]
    assert len(answers) == sum(1 for line in body.split(b"\n") if line.strip())
    assert all("decision" in answer or answer["status"] < 500 for answer in answers)
