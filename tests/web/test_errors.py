"""Every way to be refused: its status, its kind, and where it points."""

import json

import pytest

from service.web.problems import KINDS
from tests.web.clients import client_with

JSON = {"content_type": "application/json"}
BEGUN = {"program": "popcorn", "setup": {"rated_w": 1000}, "as_of": 50}

NOT_JSON = {
    "nothing at all": b"",
    "half an object": b'{"program":',
    "a trailing comma": b'{"program": "popcorn",}',
    "two values": b"{} {}",
    "a name twice": b'{"program": "popcorn", "program": "popcorn"}',
    "a name twice deep inside": b'{"program": "popcorn", "readings": {"humidity": [{"t": 1, "t": 2, "rh_pct": 3}]}}',
    "bytes that are not UTF-8": b'{"program": "\xff"}',
    "UTF-16": '{"program": "popcorn"}'.encode("utf-16"),
    "a byte-order mark": b'\xef\xbb\xbf{"program": "popcorn"}',
    "lists too deep": b"[" * 100_000,
    "objects too deep": b'{"a":' * 50_000,
    "a number of 5,000 digits": b'{"as_of": ' + b"9" * 5000 + b"}",
}

WRONG = {
    "a list": (b"[]", [""]),
    "a text": (b'"popcorn"', [""]),
    "null": (b"null", [""]),
    "no programme and no state": (b"{}", ["/program"]),
    "an unknown programme": (b'{"program": "toast"}', ["/program"]),
    "a programme that is a number": (b'{"program": 7}', ["/program"]),
    "a programme that is null": (b'{"program": null}', ["/program"]),
    "an empty programme": (b'{"program": ""}', ["/program"]),
    "an unknown field": (b'{"program": "popcorn", "now": 3}', ["/now"]),
    "an unknown field with a name to be escaped": (b'{"program": "popcorn", "a/b~c": 3}', ["/a~1b~0c"]),
    "a very long field name": (b'{"program": "popcorn", "' + b"x" * 5000 + b'": 3}', [""]),
    "readings that are a list": (b'{"program": "popcorn", "readings": []}', ["/readings"]),
    "readings that are null": (b'{"program": "popcorn", "readings": null}', ["/readings"]),
    "an unknown kind of reading": (b'{"program": "popcorn", "readings": {"smoke": []}}', ["/readings/smoke"]),
    "pops that are an object": (b'{"program": "popcorn", "readings": {"pops": {}}}', ["/readings/pops"]),
    "a pop that is a text": (b'{"program": "popcorn", "readings": {"pops": [1, "2"]}}', ["/readings/pops/1"]),
    "a pop that is true": (b'{"program": "popcorn", "readings": {"pops": [true]}}', ["/readings/pops/0"]),
    "a pop that is null": (b'{"program": "popcorn", "readings": {"pops": [null]}}', ["/readings/pops/0"]),
    "a pop before the start": (b'{"program": "popcorn", "readings": {"pops": [-0.001]}}', ["/readings/pops/0"]),
    "a pop after two hours": (b'{"program": "popcorn", "readings": {"pops": [7200.001]}}', ["/readings/pops/0"]),
    "a pop at NaN": (b'{"program": "popcorn", "readings": {"pops": [1, NaN, 2]}}', ["/readings/pops/1"]),
    "a pop at infinity": (b'{"program": "popcorn", "readings": {"pops": [Infinity]}}', ["/readings/pops/0"]),
    "a pop at 1e999": (b'{"program": "popcorn", "readings": {"pops": [1e999]}}', ["/readings/pops/0"]),
    "a pop at a huge whole number": (
        b'{"program": "popcorn", "readings": {"pops": [' + b"9" * 4000 + b"]}}",
        ["/readings/pops/0"],
    ),
    "several wrong pops": (
        b'{"program": "popcorn", "readings": {"pops": [-1, 2, "x", []]}}',
        ["/readings/pops/0", "/readings/pops/2", "/readings/pops/3"],
    ),
    "humidity without its time": (
        b'{"program": "popcorn", "readings": {"humidity": [{"rh_pct": 40}]}}',
        ["/readings/humidity/0/t"],
    ),
    "humidity over 100 %": (
        b'{"program": "popcorn", "readings": {"humidity": [{"t": 1, "rh_pct": 100.1}]}}',
        ["/readings/humidity/0/rh_pct"],
    ),
    "humidity with a null temperature": (
        b'{"program": "popcorn", "readings": {"humidity": [{"t": 1, "rh_pct": 40, "air_c": null}]}}',
        ["/readings/humidity/0/air_c"],
    ),
    "humidity with NaN as its temperature": (
        b'{"program": "popcorn", "readings": {"humidity": [{"t": 1, "rh_pct": 40, "air_c": NaN}]}}',
        ["/readings/humidity/0/air_c"],
    ),
    "humidity with an unknown field": (
        b'{"program": "popcorn", "readings": {"humidity": [{"t": 1, "rh_pct": 4}, {"t": 1, "rh_pct": 4, "rh": 1}]}}',
        ["/readings/humidity/1/rh"],
    ),
    "humidity that is a number": (b'{"program": "popcorn", "readings": {"humidity": [3]}}', ["/readings/humidity/0"]),
    "power over the full": (
        b'{"program": "popcorn", "readings": {"power": [{"t": 1, "level": 1.01}]}}',
        ["/readings/power/0/level"],
    ),
    "a restart that is a text": (b'{"program": "popcorn", "readings": {"restarts": ["1"]}}', ["/readings/restarts/0"]),
    "a moment before the start": (b'{"program": "popcorn", "as_of": -1}', ["/as_of"]),
    "a moment after two hours": (b'{"program": "popcorn", "as_of": 7201}', ["/as_of"]),
    "a moment at NaN": (b'{"program": "popcorn", "as_of": NaN}', ["/as_of"]),
    "a moment that is a text": (b'{"program": "popcorn", "as_of": "1"}', ["/as_of"]),
    "an interval of everything": (b'{"program": "popcorn", "interval_pct": 100}', ["/interval_pct"]),
    "a setup that is null": (b'{"program": "popcorn", "setup": null}', ["/setup"]),
    "an unknown part of the setup": (b'{"program": "popcorn", "setup": {"colour": 1}}', ["/setup/colour"]),
    "an oven of no power": (b'{"program": "popcorn", "setup": {"rated_w": 0}}', ["/setup/rated_w"]),
    "a load that is true": (b'{"program": "popcorn", "setup": {"load_g": true}}', ["/setup/load_g"]),
    "a silence of no time": (b'{"program": "popcorn", "setup": {"gap_s": 0}}', ["/setup/gap_s"]),
    "a cap at infinity": (b'{"program": "popcorn", "setup": {"max_heating_s": 1e999}}', ["/setup/max_heating_s"]),
    "an unknown sensor": (b'{"program": "popcorn", "setup": {"sensors": ["moisture", "nose"]}}', ["/setup/sensors/1"]),
    "a sensor that is a list": (b'{"program": "popcorn", "setup": {"sensors": [[]]}}', ["/setup/sensors/0"]),
    "a sensor twice": (b'{"program": "popcorn", "setup": {"sensors": ["moisture", "moisture"]}}', ["/setup/sensors"]),
    "no sensors": (b'{"program": "popcorn", "setup": {"sensors": []}}', ["/setup/sensors"]),
    "an oven that is a text": (b'{"program": "popcorn", "setup": {"oven": "mine"}}', ["/setup/oven"]),
    "an unknown part of the oven": (b'{"program": "popcorn", "setup": {"oven": {"door": 1}}}', ["/setup/oven/door"]),
    "a fitted number without a value": (
        b'{"program": "popcorn", "setup": {"oven": {"steam_ratio": {"low": 1.2}}}}',
        ["/setup/oven/steam_ratio/value"],
    ),
    "a fitted number out of its interval": (
        b'{"program": "popcorn", "setup": {"oven": {"steam_ratio": {"value": 1.4, "low": 1.5}}}}',
        ["/setup/oven/steam_ratio"],
    ),
    "a fitted number out of its range": (
        b'{"program": "popcorn", "setup": {"oven": {"duty_cycle": {"value": 1.5}}}}',
        ["/setup/oven/duty_cycle/value"],
    ),
}

HTTP = {
    "a path that is not there": ("GET", "/v2/decisions", {}, 404, "not-found"),
    "a doubled slash": ("GET", "/v1//programs", {}, 404, "not-found"),
    "a slash too many": ("GET", "/livez/", {}, 404, "not-found"),
    "a programme that is not there": ("GET", "/v1/programs/toast", {}, 404, "not-found"),
    "a problem that is not there": ("GET", "/problems/hunger", {}, 404, "not-found"),
    "reading what can only be posted": ("GET", "/v1/decisions", {}, 405, "method-not-allowed"),
    "deleting": ("DELETE", "/v1/programs", {}, 405, "method-not-allowed"),
    "a method of one's own": ("COOK", "/livez", {}, 405, "method-not-allowed"),
    "no media type": ("POST", "/v1/decisions", {"data": b"{}"}, 415, "media-type"),
    "a form": ("POST", "/v1/decisions", {"data": {"program": "popcorn"}}, 415, "media-type"),
    "plain text": ("POST", "/v1/decisions", {"data": b"{}", "content_type": "text/plain"}, 415, "media-type"),
    "JSON in Latin-1": (
        "POST",
        "/v1/decisions",
        {"data": b"{}", "content_type": "application/json; charset=latin-1"},
        415,
        "media-type",
    ),
    "a compressed body": (
        "POST",
        "/v1/decisions",
        {"data": b"{}", "headers": {"Content-Encoding": "gzip"}, **JSON},
        415,
        "media-type",
    ),
    "a body over the limit": ("POST", "/v1/decisions", {"data": b" " * 262_145, **JSON}, 413, "body-too-large"),
}


def assert_is_problem(response, status, slug):
    assert response.status_code == status
    assert response.content_type == "application/problem+json"
    document = json.loads(response.data)
    assert document["type"] == f"/problems/{slug}"
    assert document["status"] == status
    assert document["title"]
    assert document["detail"]


@pytest.mark.parametrize("body", NOT_JSON.values(), ids=NOT_JSON)
def test_what_is_not_json_is_refused(post, body):
    assert_is_problem(post(body), 400, "not-json")


@pytest.mark.parametrize(("body", "pointers"), WRONG.values(), ids=WRONG)
def test_wrong_input_is_refused_and_pointed_at(post, body, pointers):
    response = post(body)
    assert_is_problem(response, 422, "wrong-input")
    assert [error["pointer"] for error in response.json["errors"]] == pointers
    helpful = ("received", "is required", "there are", "leave the field out", "low <= value", "twice", "with a name of")
    assert all(any(words in error["detail"] for words in helpful) for error in response.json["errors"])


SAID = [
    pytest.param(b"", "the text is empty", id="nothing at all"),
    pytest.param(b"\xef\xbb\xbf{}", "byte-order mark", id="a byte-order mark"),
    pytest.param(NOT_JSON["a name twice"], "the name 'program' stands twice", id="a name twice"),
    pytest.param(b'"popcorn"', "expected an object; received the text 'popcorn'", id="a text for an object"),
    pytest.param(b"{}", "this field is required", id="nothing said"),
    pytest.param(b'{"program": 7}', "expected the name of a programme, or an object that is one; received 7", id="7"),
    pytest.param(b'{"program": "toast"}', "melting, popcorn, potato, reheat, vegetables, or an object; received 'toast'",
                 id="an unknown programme"),
    pytest.param(b'{"program": {}}', "/program/led_by: expected a list of texts; it is missing", id="an empty programme"),
    pytest.param(b'{"program": "popcorn", "reading": {}}',
                 "no such field here; there are: program, setup, readings, as_of, interval_pct, state", id="a slip"),
    pytest.param(b'{"program": "popcorn", "readings": {"pop": [1]}}', "there are: pops, humidity, power, restarts",
                 id="a slip inside"),
    pytest.param(b'{"program": "popcorn", "readings": {"humidity": [{"t": 1, "rh_pct": 4, "rh": 1}]}}',
                 "there are: t, rh_pct, air_c", id="a slip in a reading"),
    pytest.param(b'{"program": "popcorn", "readings": {"pops": ["1.5"]}}',
                 "expected a number from 0 to 7200 s; received the text '1.5'", id="a number in quotes"),
    pytest.param(b'{"program": "popcorn", "setup": {"sensors": ["mic"]}}',
                 "expected acoustic or moisture; received the text 'mic'", id="an unknown sensor"),
    pytest.param(b'{"program": "popcorn", "as_of": "' + b"x" * 100 + b'"}', "received a text", id="a long text"),
    pytest.param(b'{"program": "popcorn", "as_of": "\\u202e"}', "received a text", id="a text that cannot be shown"),
]  # fmt: skip


@pytest.mark.parametrize(("body", "says"), SAID)
def test_the_detail_says_what_was_expected_and_what_was_received(post, body, says):
    assert says in post(body).json["detail"]


@pytest.mark.parametrize(("method", "path", "options", "status", "slug"), HTTP.values(), ids=HTTP)
def test_wrong_requests_are_refused(client, method, path, options, status, slug):
    assert_is_problem(client.open(path, method=method, **options), status, slug)


def test_refused_method_is_told_which_are_allowed(client):
    assert set(client.get("/v1/decisions").headers["Allow"].split(", ")) == {"OPTIONS", "POST"}


def test_utf8_may_be_said(client):
    body = json.dumps({"program": "popcorn"})
    assert client.post("/v1/decisions", data=body, content_type="application/json; charset=UTF-8").status_code == 200


@pytest.mark.parametrize(
    ("change", "pointer", "says"),
    [
        ({"program": "toast"}, "/program", "begun with 'popcorn'"),
        ({"setup": {"rated_w": 900}}, "/setup", "begun with another setup"),
        ({"setup": {}}, "/setup", "begun with another setup"),
        ({"as_of": 49.999}, "/as_of", "expected 50 s or later, the moment of the last decision; received 49.999"),
    ],
)
def test_post_must_fit_its_state(post, change, pointer, says):
    state = post(**BEGUN).json["state"]
    response = post(state=state, **change)
    assert_is_problem(response, 422, "wrong-input")
    assert response.json["errors"][0]["pointer"] == pointer
    assert says in response.json["errors"][0]["detail"]


@pytest.mark.parametrize(
    "change",
    [
        {},
        {"program": "popcorn"},
        {"setup": {"rated_w": 1000.0}},
        {"as_of": 50},
        {"program": "popcorn", "setup": {"rated_w": 1e3}, "as_of": 51},
    ],
)
def test_post_may_say_again_what_its_state_carries(post, change):
    state = post(**BEGUN).json["state"]
    assert post(state=state, **change).status_code == 200


def test_order_of_sensors_and_the_way_a_number_is_written_make_no_other_setup(post):
    oven = {"steam_ratio": 1.4}
    first = post(program="popcorn", setup={"sensors": ["moisture", "acoustic"], "oven": oven}).json
    again = {"sensors": ["acoustic", "moisture"], "oven": {"steam_ratio": {"value": 1.40}}}
    assert post(state=first["state"], setup=again).status_code == 200


def test_no_more_than_twenty_errors_are_listed(post):
    response = post(program="popcorn", readings={"pops": [-1] * 500, "restarts": [-1] * 500})
    assert_is_problem(response, 422, "wrong-input")
    assert len(response.json["errors"]) == 20


def test_bad_post_leaves_nothing_behind(post):
    state = post(program="popcorn", as_of=10, readings={"pops": [5.0]}).json["state"]
    assert post(state=state, as_of=20, readings={"pops": [6.0], "restarts": ["x"]}).status_code == 422
    assert post(state=state, as_of=20).json["evidence"]["acoustic"]["pops"] == 1


def test_own_failure_is_told_without_its_insides():
    client = client_with()
    client.application.add_url_rule("/broken", view_func=lambda: {}["a secret"])
    response = client.get("/broken")
    assert_is_problem(response, 500, "internal")
    assert b"secret" not in response.data


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.slug)
def test_every_kind_of_problem_says_what_to_do(client, kind):
    told = client.get(kind.type)
    assert told.status_code == 200
    assert told.json == {"type": kind.type, "title": kind.title, "status": kind.status, "remedy": kind.remedy}
