"""Who may call: bearer keys, their scopes, their end, and their replacement while the service runs."""

import hashlib
import json
import os
from datetime import UTC, datetime, timedelta

import pytest

from service.web.callers import made_key
from service.web.settings import SettingsError
from tests.web.clients import client_with

PATHS = {
    "decide": ("POST", "/v1/decisions", "application/json", b'{"program": "popcorn"}'),
    "replay": ("POST", "/v1/replays", "application/x-ndjson", b'{"program": "popcorn"}\n'),
    "metrics": ("GET", "/metrics", None, b""),
}
OPEN_PATHS = ["/livez", "/readyz", "/problems/no-key", "/openapi.json", "/docs", "/docs/docs.js", "/", "/page/page.js"]


class Keys:
    """A file of keys, and the secrets of its keys."""

    def __init__(self, file):
        self.file = file
        self.file.write_text("# keys of a test\n\n")

    def add(self, *scopes, days=30, name="hub"):
        secret, key = made_key(name, scopes, days)
        with self.file.open("a") as opened:
            opened.write(key.line() + "\n")
        return secret

    def write(self, text):
        """Replace the file as a whole, as a rotation does."""
        beside = self.file.with_suffix(".new")
        beside.write_text(text)
        os.replace(beside, self.file)


@pytest.fixture
def keys(tmp_path):
    return Keys(tmp_path / "keys.ndjson")


def ask(client, scope="decide", authorization=None):
    method, path, content_type, body = PATHS[scope]
    headers = {} if authorization is None else {"Authorization": authorization}
    return client.open(path, method=method, data=body, content_type=content_type, headers=headers)


def assert_is_refused(response, status, slug, challenge):
    assert response.status_code == status
    assert response.json["type"] == f"/problems/{slug}"
    assert response.headers["WWW-Authenticate"] == challenge


@pytest.mark.parametrize("scope", PATHS)
def test_key_opens_what_its_scope_says_and_nothing_else(keys, scope):
    secret = keys.add(scope)
    client = client_with(keys_file=keys.file)
    for other in PATHS:
        response = ask(client, other, f"Bearer {secret}")
        if other == scope:
            assert response.status_code == 200
        else:
            assert_is_refused(response, 403, "wrong-scope", 'Bearer error="insufficient_scope"')
            assert other in response.json["detail"]


def test_any_key_may_read_the_programmes(keys):
    secret = keys.add("metrics")
    client = client_with(keys_file=keys.file)
    assert client.get("/v1/programs").status_code == 401
    for path in ("/v1/programs", "/v1/programs/popcorn"):
        assert client.get(path, headers={"Authorization": f"Bearer {secret}"}).status_code == 200


@pytest.mark.parametrize("path", OPEN_PATHS)
def test_some_paths_need_no_key(keys, path):
    assert client_with(keys_file=keys.file).get(path).status_code == 200


def test_service_without_a_file_of_keys_asks_for_none(client):
    assert ask(client).status_code == 200


@pytest.mark.parametrize("authorization", [None, "", "Bearer", "Bearer ", "Basic aHViOmh1Yg==", "hub"])
def test_no_key_is_told_to_bring_one(keys, authorization):
    keys.add("decide")
    assert_is_refused(ask(client_with(keys_file=keys.file), authorization=authorization), 401, "no-key", "Bearer")


def test_wrong_key_is_refused(keys):
    secret = keys.add("decide")
    client = client_with(keys_file=keys.file)
    invalid = 'Bearer error="invalid_token"'
    for wrong in (secret[:-1], secret + "A", secret.swapcase(), hashlib.sha256(secret.encode()).hexdigest(), "\xff"):
        assert_is_refused(ask(client, authorization=f"Bearer {wrong}"), 401, "no-key", invalid)


def test_scheme_may_be_written_in_any_case(keys):
    secret = keys.add("decide")
    assert ask(client_with(keys_file=keys.file), authorization=f"bearer {secret}").status_code == 200


def test_nothing_is_read_of_a_request_without_a_key(keys):
    client = client_with(keys_file=keys.file)
    response = client.post("/v1/decisions", data=b"{", content_type="application/json")
    assert response.status_code == 401


def test_key_is_taken_to_the_end_of_its_last_day(keys):
    today, yesterday = keys.add("decide", days=0), keys.add("decide", days=-1)
    client = client_with(keys_file=keys.file)
    assert ask(client, authorization=f"Bearer {today}").status_code == 200
    refused = ask(client, authorization=f"Bearer {yesterday}")
    assert_is_refused(refused, 401, "no-key", 'Bearer error="invalid_token"')
    assert (datetime.now(UTC).date() - timedelta(days=1)).isoformat() in refused.json["detail"]


def test_keys_can_be_added_and_withdrawn_while_it_runs(keys):
    old = keys.add("decide")
    client = client_with(keys_file=keys.file)
    new = keys.add("decide")
    assert ask(client, authorization=f"Bearer {old}").status_code == 200
    assert ask(client, authorization=f"Bearer {new}").status_code == 200
    keys.write(keys.file.read_text().splitlines()[-1] + "\n")
    assert ask(client, authorization=f"Bearer {old}").status_code == 401
    assert ask(client, authorization=f"Bearer {new}").status_code == 200


def test_file_that_becomes_wrong_or_goes_away_changes_nothing(keys, caplog):
    secret = keys.add("decide")
    client = client_with(keys_file=keys.file)
    keys.write("half a li")
    assert ask(client, authorization=f"Bearer {secret}").status_code == 200
    assert "the keys are kept as they were" in caplog.text
    keys.file.unlink()
    assert ask(client, authorization=f"Bearer {secret}").status_code == 200
    assert ask(client, authorization="Bearer x").status_code == 401
    keys.write("")
    assert ask(client, authorization=f"Bearer {secret}").status_code == 401


def test_the_file_holds_no_secret(keys):
    secret = keys.add("decide")
    assert secret not in keys.file.read_text()
    assert hashlib.sha256(secret.encode()).hexdigest() in keys.file.read_text()


def test_each_secret_is_another_of_256_bits():
    secrets = {made_key("hub", ("decide",), 1)[0] for _ in range(100)}
    assert len(secrets) == 100
    assert {len(secret) for secret in secrets} == {43}


GOOD = {"name": "hub", "sha256": "0" * 64, "expires": "2099-01-01", "scopes": ["decide"]}


@pytest.mark.parametrize(
    "line",
    [
        "PLACEHOLDER",
        "[]",
        json.dumps({key: value for key, value in GOOD.items() if key != "expires"}),
        json.dumps(GOOD | {"colour": "red"}),
        json.dumps(GOOD | {"name": ""}),
        json.dumps(GOOD | {"sha256": "0" * 63}),
        json.dumps(GOOD | {"sha256": "G" * 64}),
        json.dumps(GOOD | {"expires": "tomorrow"}),
        json.dumps(GOOD | {"expires": 2099}),
        json.dumps(GOOD | {"scopes": []}),
        json.dumps(GOOD | {"scopes": "decide"}),
        json.dumps(GOOD | {"scopes": ["everything"]}),
        '{"name": "hub", "name": "hub"}',
    ],
)
def test_service_does_not_start_with_a_wrong_file(keys, line):
    keys.write(json.dumps(GOOD) + "\n" + line + "\n")
    with pytest.raises(SettingsError, match="line 2"):
        client_with(keys_file=keys.file)


def test_service_does_not_start_without_the_file(tmp_path):
    with pytest.raises(FileNotFoundError):
        client_with(keys_file=tmp_path / "nowhere")
