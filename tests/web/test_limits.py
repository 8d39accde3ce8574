"""Limits are taken at the mark and refused one over it."""

import io
import json
import zlib

import pytest

from service.web.tokens import Tokens
from tests.web.clients import KEY, client_with


def times(count, first_ms=0):
    return [(first_ms + at) / 1000 for at in range(count)]


def send(client, **fields):
    return client.post("/v1/decisions", json={"program": "popcorn", "as_of": 30, **fields})


@pytest.mark.parametrize(("size", "status"), [(4999, 200), (5000, 200), (5001, 413)])
def test_body(size, status):
    body = json.dumps({"program": "popcorn"}).encode()
    body += b" " * (size - len(body))
    response = client_with(max_body_bytes=5000).post("/v1/decisions", data=body, content_type="application/json")
    assert response.status_code == status


@pytest.mark.parametrize(("size", "status"), [(4999, 200), (5000, 200), (5001, 413), (9000, 413)])
def test_body_in_chunks_is_never_cut_off_and_taken(size, status):
    body = json.dumps({"program": "popcorn"}).encode()
    response = client_with(max_body_bytes=5000).post(
        "/v1/decisions",
        input_stream=io.BytesIO(body + b" " * (size - len(body))),
        content_type="application/json",
        environ_overrides={"wsgi.input_terminated": True, "HTTP_TRANSFER_ENCODING": "chunked"},
    )
    assert response.status_code == status


@pytest.mark.parametrize("length", ["9" * 30, "9" * 6000])
def test_body_that_says_to_be_endless_is_refused_unread(length):
    overrides = {"CONTENT_LENGTH": length}
    response = client_with().post("/v1/decisions", content_type="application/json", environ_overrides=overrides)
    assert response.status_code == 413


@pytest.mark.parametrize("said", ["5000", "3"])
def test_body_that_is_not_as_long_as_it_says_is_never_taken(said):
    body = json.dumps({"program": "popcorn"}).encode()
    response = client_with().post(
        "/v1/decisions",
        input_stream=io.BytesIO(body),
        content_type="application/json",
        environ_overrides={"wsgi.input_terminated": True, "CONTENT_LENGTH": said},
    )
    assert response.status_code == 400


@pytest.mark.parametrize(("count", "status"), [(99, 200), (100, 200), (101, 422)])
def test_readings_in_a_post(count, status):
    response = send(client_with(max_readings_per_post=100), readings={"pops": times(count)})
    assert response.status_code == status
    if status == 422:
        assert response.json["errors"][0]["pointer"] == "/readings"


@pytest.mark.parametrize(("more", "status"), [(39, 200), (40, 200), (41, 422)])
def test_readings_in_a_cook(more, status):
    client = client_with(max_readings_per_cook=100)
    state = send(client, readings={"pops": times(60)}).json["state"]
    response = send(client, state=state, readings={"pops": times(more, first_ms=60)})
    assert response.status_code == status


def test_readings_sent_again_do_not_count_again():
    client = client_with(max_readings_per_cook=100)
    state = send(client, readings={"pops": times(100)}).json["state"]
    assert send(client, state=state, readings={"pops": times(100)}).status_code == 200


def test_state_is_never_handed_out_longer_than_it_is_taken_back():
    longest = len(send(client_with(), readings={"pops": times(50)}).json["state"])
    exact, short = client_with(max_state_characters=longest), client_with(max_state_characters=longest - 1)
    answer = send(exact, readings={"pops": times(50)})
    assert answer.status_code == 200
    assert send(exact, state=answer.json["state"]).status_code == 200
    refused = send(short, readings={"pops": times(50)})
    assert refused.status_code == 422
    assert refused.json["errors"][0]["pointer"] == "/readings"
    assert send(short, state=answer.json["state"]).json["errors"][0]["pointer"] == "/state"


def test_largest_cook_of_pops_fits_its_state(client):
    state, last = None, None
    for part in range(4):
        pops = [round((part * 5000 + at) * 0.0617, 3) for at in range(5000)]
        last = send(client, readings={"pops": pops}, as_of=1300, **({"state": state} if state else {}))
        assert last.status_code == 200
        state = last.json["state"]
    assert last.json["evidence"]["acoustic"]["pops"] == 20_000


def test_state_may_unpack_to_its_limit_and_not_a_byte_more():
    state = send(client_with(), readings={"pops": times(8000)}).json["state"]
    payload = Tokens([KEY], purpose="cook state", longest=10**6).open(state)
    size = len(zlib.decompressobj(-15).decompress(payload[1:]))
    assert size > 16_384 + 8 * 100
    for limit, pointer in ((size + 1, "/readings"), (size, "/readings"), (size - 1, "/state")):
        # Where it unpacks, it is a larger cook than is taken there.
        client = client_with(max_readings_per_cook=100, max_state_bytes=limit)
        assert send(client, state=state).json["errors"][0]["pointer"] == pointer


def nested(depth):
    """A post in which lists lie in an object, all in all so deep."""
    return b'{"program": "popcorn", "x": ' + b"[" * (depth - 1) + b"]" * (depth - 1) + b"}"


@pytest.mark.parametrize(("depth", "status"), [(11, 422), (12, 422), (13, 400), (40, 400), (5000, 400)])
def test_nesting(depth, status):
    client = client_with(max_nesting=12)
    response = client.post("/v1/decisions", data=nested(depth), content_type="application/json")
    assert response.status_code == status
    assert response.json["type"] == ("/problems/wrong-input" if status == 422 else "/problems/not-json")


@pytest.mark.parametrize("text", ["[" * 100, "{" * 100, "[]{}" * 100, '\\"[' * 40, "\\\\" + "[{" * 40])
def test_brackets_in_a_text_do_not_nest(text):
    body = b'{"program": "popcorn", "state": "' + text.encode() + b'"}'
    response = client_with(max_nesting=2).post("/v1/decisions", data=body, content_type="application/json")
    assert response.json["type"] == "/problems/wrong-state"


@pytest.mark.parametrize(("length", "status"), [(19, 200), (20, 200), (21, 400), (5000, 400)])
def test_characters_of_a_number(length, status):
    client = client_with(max_number_characters=20)
    for number in ("9." + "9" * (length - 2), "9." + "0" * (length - 4) + "e1", "900e-" + "0" * (length - 6) + "2"):
        body = b'{"program": "popcorn", "as_of": ' + number.encode() + b"}"
        response = client.post("/v1/decisions", data=body, content_type="application/json")
        assert response.status_code == status, number


def test_digits_in_a_text_are_no_number():
    body = json.dumps({"program": "popcorn", "state": "1" * 300}).encode()
    response = client_with(max_number_characters=20).post("/v1/decisions", data=body, content_type="application/json")
    assert response.json["type"] == "/problems/wrong-state"
