"""SenML packs: resolved as RFC 8428 says, and asked about like any other post."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from marshmallow import ValidationError

from schemas.senml import resolved
from tests.web.clients import client_with

SENML = "application/senml+json"
DEVICE = "urn:dev:ow:10e2073a01080063"
START_S = 1320067464

# RFC 8428, section 5.1.3: the pack, and as it says in words, humidity from Mon Oct 31 13:24:24 UTC 2011 on.
HUMIDITY_AND_POSITION = json.loads("""[
    {"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
    {"u":"lon","v":24.30621},
    {"u":"lat","v":60.07965},
    {"t":60,"v":20.3},
    {"u":"lon","t":60,"v":24.30622},
    {"u":"lat","t":60,"v":60.07965},
    {"t":120,"v":20.7},
    {"u":"lon","t":120,"v":24.30623},
    {"u":"lat","t":120,"v":60.07966},
    {"u":"%EL","t":150,"v":98},
    {"t":180,"v":21.2},
    {"u":"lon","t":180,"v":24.30628},
    {"u":"lat","t":180,"v":60.07967}
]""")
# RFC 8428, section 5.1.4: the same, resolved.
RESOLVED = [
    ("%RH", 1320067464, 20),
    ("lon", 1320067464, 24.30621),
    ("lat", 1320067464, 60.07965),
    ("%RH", 1320067524, 20.3),
    ("lon", 1320067524, 24.30622),
    ("lat", 1320067524, 60.07965),
    ("%RH", 1320067584, 20.7),
    ("lon", 1320067584, 24.30623),
    ("lat", 1320067584, 60.07966),
    ("%EL", 1320067614, 98),
    ("%RH", 1320067644, 21.2),
    ("lon", 1320067644, 24.30628),
    ("lat", 1320067644, 60.07967),
]
# RFC 8428, section 5.1.2: current at Tue Jun 8 18:01:16.001 UTC 2010 and in each of the five seconds before.
VOLTAGE_AND_CURRENT = json.loads("""[
    {"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,
     "bu":"A","bver":5,
     "n":"voltage","u":"V","v":120.1},
    {"n":"current","t":-5,"v":1.2},
    {"n":"current","t":-4,"v":1.3},
    {"n":"current","t":-3,"v":1.4},
    {"n":"current","t":-2,"v":1.5},
    {"n":"current","t":-1,"v":1.6},
    {"n":"current","v":1.7}
]""")


def ask(pack, client=None, **query):
    """The answer to a pack, its query beside it."""
    return (client or client_with()).post(
        "/v1/decisions", data=json.dumps(pack), content_type=SENML, query_string=query
    )


@pytest.fixture(scope="module")
def senml(client):
    return lambda pack, **query: ask(pack, client, **query)


def test_example_with_humidity_resolves_as_published():
    records = resolved(HUMIDITY_AND_POSITION)
    assert [(record.unit, record.time_s, record.value) for record in records] == RESOLVED
    assert {record.name for record in records} == {DEVICE}
    assert all(record.is_absolute for record in records)


def test_resolving_again_changes_nothing():
    again = [{"n": r.name, "u": r.unit, "t": r.time_s, "v": r.value} for r in resolved(HUMIDITY_AND_POSITION)]
    assert resolved(again) == resolved(HUMIDITY_AND_POSITION)


def test_example_with_an_older_version_resolves_in_the_order_of_its_times():
    records = resolved(VOLTAGE_AND_CURRENT)
    assert [record.value for record in records] == [1.2, 1.3, 1.4, 1.5, 1.6, 120.1, 1.7]
    assert records[0].time_s == pytest.approx(1276020071.001, abs=1e-6)
    assert [record.unit for record in records] == ["A"] * 5 + ["V", "A"]
    assert records[5].name == "urn:dev:ow:10e2073a0108006:voltage"


@pytest.mark.parametrize(
    ("pack", "expected"),
    [
        # RFC 8428, section 4.5.4: what is missing of base value and value, or base sum and sum, is 0.
        ([{"n": "a", "bv": 3}], [(3.0, None)]),
        ([{"n": "a", "bv": 3, "v": 4}, {"v": 1}], [(7.0, None), (4.0, None)]),
        ([{"n": "a", "bs": 3}], [(None, 3.0)]),
        ([{"n": "a", "bs": 3, "s": 4, "v": 1}], [(1, 7.0)]),
        ([{"n": "a", "bv": 3, "vs": "x"}], [("x", None)]),
        ([{"n": "a", "bv": 3, "vb": False}], [(False, None)]),
        ([{"n": "a", "vd": "YQ"}], [(None, None)]),
    ],
)
def test_base_values_are_added(pack, expected):
    records = resolved([{"bn": "x"}, *pack])
    assert [(record.value, record.sum) for record in records] == expected


def test_names_are_joined_and_base_fields_hold_until_others_come():
    records = resolved([{"bn": "x/", "n": "a", "v": 1}, {"n": "b", "v": 1}, {"bn": "y/", "n": "a", "v": 1}])
    assert [record.name for record in records] == ["x/a", "x/b", "y/a"]


@pytest.mark.parametrize(("time_s", "is_absolute"), [(2**28 - 1, False), (2**28, True), (-(2**30), False)])
def test_times_count_from_1970_from_2_to_the_28_on(time_s, is_absolute):
    """RFC 8428, section 4.5.3."""
    assert resolved([{"n": "a", "v": 1, "t": time_s}])[0].is_absolute == is_absolute


def test_unknown_labels_are_passed_over():
    """RFC 8428, section 4.4."""
    assert resolved([{"n": "a", "v": 1, "colour": [1]}])[0].value == 1


WRONG_PACKS = {
    "an object": ({}, {}),
    "a record that is a number": ([3], {0}),
    "a label that must be understood": ([{"n": "a", "v": 1, "x_": 1}], {(0, "x_")}),
    "a version that is not known": ([{"n": "a", "v": 1, "bver": 11}], {(0, "bver")}),
    "a version that is no whole number": ([{"n": "a", "v": 1, "bver": 9.5}], {(0, "bver")}),
    "two versions": ([{"n": "a", "v": 1, "bver": 5}, {"n": "a", "v": 1, "bver": 10}], {(1, "bver")}),
    "a version after the default": ([{"n": "a", "v": 1}, {"n": "a", "v": 1, "bver": 9}], {(1, "bver")}),
    "no name": ([{"v": 1}], {(0, "n")}),
    "a name that begins with a dash": ([{"n": "-a", "v": 1}], {(0, "n")}),
    "a name with a space": ([{"bn": "a ", "n": "b", "v": 1}], {(0, "n")}),
    "a name with a line end": ([{"n": "a\n", "v": 1}], {(0, "n")}),
    "two values": ([{"n": "a", "v": 1, "vb": True}], {(0, "vb")}),
    "no value": ([{"n": "a", "t": 1}], {0}),
    "a value that is a text": ([{"n": "a", "v": "1"}], {(0, "v")}),
    "a value that is null": ([{"n": "a", "v": None}], {(0, "v")}),
    "a value that is true": ([{"n": "a", "v": True}], {(0, "v")}),
    "a value of 1e400": ([{"n": "a", "v": 10**400}], {(0, "v")}),
    "a time that is NaN": ([{"n": "a", "v": 1, "t": float("nan")}], {(0, "t")}),
    "a unit that is a number": ([{"n": "a", "v": 1, "u": 1}], {(0, "u")}),
    "a truth that is 1": ([{"n": "a", "vb": 1}], {(0, "vb")}),
}


@pytest.mark.parametrize(("pack", "places"), WRONG_PACKS.values(), ids=WRONG_PACKS)
def test_wrong_packs_are_refused_and_pointed_at(pack, places):
    with pytest.raises(ValidationError) as raised:
        resolved(pack)
    found = raised.value.messages
    for place in places:
        at, label = place if isinstance(place, tuple) else (place, None)
        assert found[at][label] if label else found[at]


def test_pack_is_decided_as_the_same_post_in_json(senml, post):
    pack = [
        {"bn": "oven/", "bt": START_S, "n": "start", "vb": True},
        {"n": "humidity", "u": "%RH", "t": 90, "v": 44.2},
        {"n": "air", "u": "Cel", "t": 90, "v": 33.1},
        {"n": "humidity", "u": "%RH", "t": 91, "v": 44.5},
        {"n": "power", "u": "/", "t": 2, "v": 0.7},
        {"n": "pop", "t": 88.125, "vb": True},
        {"n": "pop", "t": 90.4, "v": 1},
        {"n": "restart", "t": 3, "vb": True},
    ]
    readings = {
        "humidity": [{"t": 90, "rh_pct": 44.2, "air_c": 33.1}, {"t": 91, "rh_pct": 44.5}],
        "power": [{"t": 2, "level": 0.7}],
        "pops": [88.125, 90.4],
        "restarts": [3],
    }
    setup = {"rated_w": 900, "load_g": 85}
    told = senml(pack, program="popcorn", setup=json.dumps(setup), as_of="95", interval_pct="90")
    assert told.status_code == 200, told.data
    assert told.data == post(program="popcorn", setup=setup, as_of=95, interval_pct=90, readings=readings).data


def test_all_may_be_said_inside_the_pack(senml, post):
    begun = post(program="popcorn", setup={"rated_w": 900}, as_of=90).json["state"]
    pack = [
        {"n": "program", "vs": "popcorn"},
        {"n": "setup", "vs": '{"rated_w": 900}'},
        {"n": "as_of", "u": "s", "v": 95},
        {"n": "interval_pct", "v": 90},
        {"n": "state", "vs": begun},
        {"n": "pop", "t": -2, "vb": True},
    ]
    told = senml(pack)
    assert told.status_code == 200, told.data
    assert told.data == post(state=begun, as_of=95, interval_pct=90, readings={"pops": [93]}).data


CLOCKS = {
    "from now, with as_of": ([{"n": "pop", "t": -5, "vb": True}], {"as_of": "95"}, 95.0, 5.0),
    "from now, with a start from now": (
        [{"n": "start", "t": -95, "vb": True}, {"n": "pop", "t": -5, "vb": True}],
        {},
        95.0,
        5.0,
    ),
    "from now, with a start outside": ([{"n": "pop", "t": -5, "vb": True}], {"start": "-95"}, 95.0, 5.0),
    "since 1970, with a start": (
        [{"bt": START_S, "n": "start", "vb": True}, {"n": "pop", "t": 90, "vb": True}],
        {"as_of": "95"},
        95.0,
        5.0,
    ),
    "since 1970, with a start outside": (
        [{"bt": START_S, "n": "pop", "t": 90, "vb": True}],
        {"start": str(START_S), "as_of": "95"},
        95.0,
        5.0,
    ),
    "both, with a start since 1970 and as_of": (
        [{"n": "pop", "t": START_S + 80, "vb": True}, {"n": "pop", "t": -5, "vb": True}],
        {"start": str(START_S), "as_of": "95"},
        95.0,
        5.0,
    ),
    "since 1970, up to the newest reading": (
        [{"n": "pop", "t": START_S + 80, "vb": True}],
        {"start": str(START_S)},
        80,
        0,
    ),
}


@pytest.mark.parametrize(("pack", "query", "as_of_s", "silence_s"), CLOCKS.values(), ids=CLOCKS)
def test_times_are_placed_on_the_cook_clock(senml, pack, query, as_of_s, silence_s):
    told = senml(pack, program="popcorn", **query)
    assert told.status_code == 200, told.data
    assert told.json["as_of"] == as_of_s
    assert told.json["evidence"]["acoustic"]["pops"] >= 1
    assert told.json["evidence"]["acoustic"]["silence_s"] <= silence_s + 1e-9


POP = {"n": "pop", "t": -1, "vb": True}
WRONG = {
    "a name that says nothing": ([{"n": "smoke", "v": 1}], {"as_of": "9"}, ["/0/n"]),
    "humidity in another unit": ([{"n": "humidity", "u": "/", "v": 0.4}], {"as_of": "9"}, ["/0/u"]),
    "humidity without a unit": ([{"n": "humidity", "v": 40}], {"as_of": "9"}, ["/0/u"]),
    "humidity over 100": ([{"n": "humidity", "u": "%RH", "v": 101}], {"as_of": "9"}, ["/0/v"]),
    "humidity that is a text": ([{"n": "humidity", "u": "%RH", "vs": "wet"}], {"as_of": "9"}, ["/0/v"]),
    "air in kelvin": ([{"n": "air", "u": "K", "v": 300}], {"as_of": "9"}, ["/0/u"]),
    "air beside no humidity": ([{"n": "air", "u": "Cel", "v": 30}], {"as_of": "9"}, ["/0/t"]),
    "power in watts": ([{"n": "power", "u": "W", "v": 900}], {"as_of": "9"}, ["/0/u"]),
    "power over the full": ([{"n": "power", "u": "/", "v": 1.1}], {"as_of": "9"}, ["/0/v"]),
    "a pop that was not": ([{"n": "pop", "vb": False}], {"as_of": "9"}, ["/0/vb"]),
    "two pops at once": ([{"n": "pop", "v": 2}], {"as_of": "9"}, ["/0/vb"]),
    "a programme that is a number": ([{"n": "program", "v": 1}], {}, ["/0/vs"]),
    "a programme twice": ([{"n": "program", "vs": "popcorn"}, {"n": "x:program", "vs": "popcorn"}], {}, ["/1/n"]),
    "a programme inside and outside": ([{"n": "program", "vs": "popcorn"}], {}, ["/program"]),
    "as_of in minutes": ([{"n": "as_of", "u": "min", "v": 1}], {}, ["/0/u"]),
    "a time from now, and nothing to tell now": ([POP], {}, ["/0/t"]),
    "a time since 1970 without a start": ([{**POP, "t": START_S}], {"as_of": "9"}, ["/0/t"]),
    "a time since 1970 with a start from now": ([{**POP, "t": START_S}], {"start": "-9"}, ["/0/t"]),
    "a time before the start": ([{**POP, "t": START_S - 1}], {"start": str(START_S)}, ["/0/t"]),
    "a start in the future": ([{"n": "start", "t": 5, "vb": True}], {}, ["/as_of"]),
    "a setup that is no JSON": ([], {"setup": "{"}, ["/setup"]),
    "a setup that is too deep": ([], {"setup": "[" * 500}, ["/setup"]),
    "a wrong setup": ([], {"setup": '{"rated_w": 1}'}, ["/setup/rated_w"]),
    "a moment that is no number": ([], {"as_of": "soon"}, ["/as_of"]),
    "a moment that is a text": ([POP], {"as_of": '"9"'}, ["/as_of"]),
    "a moment that is null": ([POP], {"as_of": "null"}, ["/as_of"]),
    "a moment that is NaN": ([POP], {"as_of": "NaN"}, ["/as_of"]),
    "a moment of 1e400": ([POP], {"as_of": "1" + "0" * 400}, ["/as_of"]),
    "a start that is a list": ([POP], {"start": "[]"}, ["/start"]),
    "a start that is true": ([POP], {"start": "true"}, ["/start"]),
    "a start of 1e400": ([POP], {"start": "1" + "0" * 400}, ["/start"]),
    "a start at minus infinity": ([POP], {"start": "-Infinity"}, ["/start"]),
    "a start of 1e300 in the pack": ([{"n": "start", "t": 1e300, "vb": True}, POP], {}, ["/start"]),
    "a moment of 1e300 in the pack": ([{"n": "as_of", "u": "s", "v": 1e300}, POP], {}, ["/as_of"]),
    "a pop at 1e308": ([{"bt": 1e308, "n": "pop", "t": 1e308, "vb": True}], {"start": str(START_S)}, ["/0/t"]),
    "an interval that is a text": ([POP], {"as_of": "9", "interval_pct": '"9"'}, ["/interval_pct"]),
    "a query that says nothing": ([], {"colour": "red"}, ["/colour"]),
    "a query twice": ([], {"as_of": ["1", "2"]}, ["/as_of"]),
    "a word that must be understood": ([{**POP, "must_": 1}], {"as_of": "9"}, ["/0/must_"]),
    "no pack": ({"n": "pop"}, {}, [""]),
}


@pytest.mark.parametrize(("pack", "query", "pointers"), WRONG.values(), ids=WRONG)
def test_wrong_pack_is_refused_and_pointed_at(senml, pack, query, pointers):
    told = senml(pack, **{"program": "popcorn", **query})
    assert told.status_code == 422, told.data
    assert [error["pointer"] for error in told.json["errors"]] == pointers


def test_no_more_than_twenty_errors_are_listed(senml):
    assert len(senml([{"n": "smoke", "v": 1}] * 50, as_of="1").json["errors"]) == 20
    assert len(senml([3] * 50).json["errors"]) == 20


@pytest.mark.parametrize(
    "media_type",
    ["application/senml+cbor", "application/sensml+json", "application/senml+xml", "application/senml-exi"],
)
def test_other_forms_of_senml_are_not_taken(client, media_type):
    told = client.post("/v1/decisions", data=b"[]", content_type=media_type)
    assert told.status_code == 415
    assert "application/senml+json" in told.json["detail"]


@given(order=st.permutations(range(6)))
@settings(max_examples=40, deadline=None)
def test_order_of_resolved_records_does_not_matter(senml, order):
    records = [
        {"n": "humidity", "u": "%RH", "t": -3, "v": 44.2},
        {"n": "air", "u": "Cel", "t": -3, "v": 33.1},
        {"n": "air", "u": "Cel", "t": -3, "v": 31.1},
        {"n": "pop", "t": -2, "vb": True},
        {"n": "pop", "t": -1.5, "vb": True},
        {"n": "power", "u": "/", "t": -50, "v": 0.5},
    ]
    told = senml([records[at] for at in order], program="popcorn", as_of="90")
    assert told.data == senml(records, program="popcorn", as_of="90").data


JSON_VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.floats()
    | st.integers()
    | st.text(max_size=5)
    | st.sampled_from([10**400, 2**28, 2**63]),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.text(max_size=3), inner, max_size=2),
    max_leaves=4,
)
NAMES = st.sampled_from(
    ["pop", "humidity", "air", "power", "restart", "start", "as_of", "interval_pct", "program", "setup", "state"]
)
LABELS = st.sampled_from(["bn", "bt", "bu", "bv", "bs", "bver", "u", "v", "vs", "vb", "vd", "s", "t", "ut", "x", "y_"])
RECORDS = st.builds(lambda name, rest: {"n": name, **rest}, NAMES, st.dictionaries(LABELS, JSON_VALUES, max_size=4))
GOOD = st.builds(
    lambda name, t, value: {"n": name, "t": t, **value},
    st.sampled_from(["pop", "restart", "start"]),
    st.floats(-100, 100) | st.floats(START_S, START_S + 100),
    st.sampled_from([{"vb": True}, {"v": 1}, {"v": 1, "u": "count"}]),
)
QUERIES = st.dictionaries(
    st.sampled_from(["start", "as_of", "interval_pct", "setup"]), JSON_VALUES.map(json.dumps) | st.text(max_size=5)
)


@given(pack=st.lists(RECORDS | GOOD, max_size=5) | JSON_VALUES, query=QUERIES)
@settings(max_examples=200, deadline=None)
def test_any_pack_is_answered(senml, pack, query):
    told = senml(pack, program="popcorn", **query)
    assert told.status_code in (200, 422), told.data
    assert len(told.json.get("errors", [])) <= 20
