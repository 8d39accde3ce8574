"""Limits are taken at the mark and refused one over it."""

import io
import json

import pytest

from tests.web.clients import client_with


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


@pytest.mark.parametrize(("size", "status"), [(4999, 200), (5000, 413), (5001, 413), (9000, 413)])
def test_body_in_chunks_is_never_cut_off_and_taken(size, status):
    body = json.dumps({"program": "popcorn"}).encode()
    response = client_with(max_body_bytes=5000).post(
        "/v1/decisions",
        input_stream=io.BytesIO(body + b" " * (size - len(body))),
        content_type="application/json",
        environ_overrides={"wsgi.input_terminated": True, "HTTP_TRANSFER_ENCODING": "chunked"},
    )
    assert response.status_code == status


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
