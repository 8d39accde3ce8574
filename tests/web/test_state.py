"""What travels with the client comes back as it went out, or not at all."""

import base64
import json
import zlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.web.tokens import Tokens
from tests.web.clients import KEY, client_with

OLD, NEW = b"the old key, of 32 bytes or more..", b"the new key, of 32 bytes or more.."
SEALED_BY_0_1 = json.loads((Path(__file__).parents[1] / "cases" / "state_0_1.json").read_text(encoding="utf-8"))
ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"


def token_of(payload):
    return Tokens([KEY], purpose="cook state", longest=10**6).seal(payload)


def assert_state_is_refused(response):
    assert response.status_code == 422
    assert response.json["type"] == "/problems/wrong-state"
    assert response.json["errors"][0]["pointer"] == "/state"


@pytest.fixture(scope="module")
def state(post):
    return post(program="popcorn", as_of=30, readings={"pops": [1.5, 20.25]}).json["state"]


def test_no_character_of_a_state_can_be_changed(post, state):
    for at, was in enumerate(state):
        other = ALPHABET[(ALPHABET.find(was) + 1) % 64]
        assert_state_is_refused(post(state=state[:at] + other + state[at + 1 :]))


@pytest.mark.parametrize(
    "spoil",
    [
        lambda state: state[:-1],
        lambda state: state + "A",
        lambda state: state + "=",
        lambda state: state + "\n",
        lambda state: " " + state,
        lambda state: state.replace(".", ""),
        lambda state: state.replace(".", ".."),
        lambda state: state.partition(".")[0],
        lambda state: "." + state.partition(".")[2],
        lambda state: state.swapcase(),
        lambda state: "\N{SNOWMAN}" + state,
        lambda state: "\ud800",
        lambda state: "x",
    ],
)
def test_spoilt_state_is_refused(post, state, spoil):
    assert_state_is_refused(post(state=spoil(state)))


@pytest.mark.parametrize("state", [None, 3, True, [], {}, ""])
def test_state_that_is_no_text_is_wrong_input(post, state):
    response = post(state=state)
    assert response.status_code == 422
    assert response.json["errors"][0]["pointer"] == "/state"


@given(payload=st.binary(max_size=300))
@settings(max_examples=200, deadline=None)
def test_signed_bytes_of_no_sense_are_refused(post, payload):
    assert_state_is_refused(post(state=token_of(payload)))


@given(at=st.integers(0, 10**6), bit=st.integers(0, 7))
@settings(max_examples=200, deadline=None)
def test_signed_bytes_with_a_bit_flipped_never_fail_the_service(post, state, at, bit):
    payload = bytearray(Tokens([KEY], purpose="cook state", longest=10**6).open(state))
    payload[at % len(payload)] ^= 1 << bit
    assert post(state=token_of(bytes(payload))).status_code in (200, 422)


def test_small_state_that_would_unpack_to_megabytes_is_refused(post):
    deflate = zlib.compressobj(9, zlib.DEFLATED, -15)
    bomb = b"\x01" + deflate.compress(bytes(6_000_000)) + deflate.flush()
    assert len(bomb) < 10_000
    assert_state_is_refused(post(state=token_of(bomb)))


def test_state_of_another_version_is_refused(post, state):
    payload = Tokens([KEY], purpose="cook state", longest=10**6).open(state)
    assert_state_is_refused(post(state=token_of(bytes([payload[0] + 1]) + payload[1:])))


def test_token_for_another_purpose_is_refused(post, state):
    payload = Tokens([KEY], purpose="cook state", longest=10**6).open(state)
    assert_state_is_refused(post(state=Tokens([KEY], purpose="something else", longest=10**6).seal(payload)))


def test_signature_spelt_another_way_is_refused(post, state):
    # The last of 43 characters holds two bits that decoding ignores.
    last = ALPHABET.index(state[-1])
    for spelling in range(1, 4):
        other = state[:-1] + ALPHABET[last ^ spelling]
        signature = base64.urlsafe_b64decode(other.rpartition(".")[2] + "=")
        assert signature == base64.urlsafe_b64decode(state.rpartition(".")[2] + "=")
        assert_state_is_refused(post(state=other))


def test_keys_rotate():
    old, both, new = (client_with(state_keys=keys) for keys in ((OLD,), (OLD, NEW), (NEW,)))
    begun = old.post("/v1/decisions", json={"program": "popcorn", "as_of": 5}).json["state"]
    assert_state_is_refused(new.post("/v1/decisions", json={"state": begun}))
    carried_over = both.post("/v1/decisions", json={"state": begun})
    assert carried_over.status_code == 200
    assert new.post("/v1/decisions", json={"state": carried_over.json["state"]}).status_code == 200
    assert_state_is_refused(old.post("/v1/decisions", json={"state": carried_over.json["state"]}))


def test_without_keys_one_is_made_up_and_a_warning_given(caplog):
    first, second = (client_with(state_keys=()) for _ in range(2))
    assert "no state keys are set" in caplog.text
    begun = first.post("/v1/decisions", json={"program": "popcorn"}).json["state"]
    assert first.post("/v1/decisions", json={"state": begun}).status_code == 200
    assert_state_is_refused(second.post("/v1/decisions", json={"state": begun}))


def test_state_can_be_shown_again(post, state):
    assert post(state=state, as_of=40).data == post(state=state, as_of=40).data


def test_state_of_the_last_minor_version_goes_on_as_the_whole_cook_would(post):
    more = {"pops": [84.75, 85.0], "humidity": [{"t": 85, "rh_pct": 34.1, "air_c": 26.2}]}
    begun = SEALED_BY_0_1["post"]
    whole = {name: begun["readings"].get(name, []) + more.get(name, []) for name in begun["readings"] | more}
    carried_on = post(state=SEALED_BY_0_1["state"], as_of=86, readings=more)
    assert carried_on.status_code == 200
    assert carried_on.json == post(**{**begun, "as_of": 86, "readings": whole}).json
