"""Whatever is posted, the service answers, and the answer is well-formed."""

import json
import math

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
@settings(max_examples=400, deadline=None)
def test_posts_of_the_right_shape_with_wrong_values(post, request):
    assert_is_well_formed(post(json.dumps(request).encode()))


@given(request=TAKEN)
@settings(max_examples=300, deadline=None)
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
