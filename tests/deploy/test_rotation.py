"""Keys that sign the state are replaced step by step, as deploy/README.md says, while cooks go on at old and new servers."""

from itertools import pairwise

import pytest
from flask.testing import FlaskClient

from service.web.application import create_app
from service.web.settings import Settings
from tests.deploy.cooks import logs

OLD, NEW = b"the-old-key-of-the-tests-0123456789", b"the-new-key-of-the-tests-0123456789"
# Oldest to newest, the newest signs. A new key is first one that is only read.
STEPS = ((OLD,), (NEW, OLD), (OLD, NEW), (NEW,))


def server(keys: tuple[bytes, ...]) -> FlaskClient:
    return create_app(Settings(state_keys=keys)).test_client()


def statuses(servers: tuple[FlaskClient, FlaskClient]) -> set[int]:
    """The statuses of a cook that goes to and fro between two servers."""
    found: set[int] = set()
    state: dict[str, str] = {}
    for at, post in enumerate(logs(1)[0]):
        answer = servers[at % 2].post("/v1/decisions", json={**post, **state})
        found.add(answer.status_code)
        state = {"state": answer.get_json().get("state", "lost")}
    return found


@pytest.mark.parametrize("step", list(pairwise(STEPS[:3])), ids=["the new key is read", "the new key signs"])
def test_cook_goes_to_and_fro_between_the_servers_of_two_steps(step: tuple[tuple[bytes, ...], ...]) -> None:
    before, after = step
    assert statuses((server(before), server(after))) == {200}


def test_old_key_is_taken_away_only_when_no_cook_knows_it_any_more() -> None:
    """What the old key signed is lost then; what the new one signed goes on."""
    log = logs(1)[0]
    signed_by_old = server(STEPS[1]).post("/v1/decisions", json=log[0]).get_json()["state"]
    signed_by_new = server(STEPS[2]).post("/v1/decisions", json=log[0]).get_json()["state"]
    last = server(STEPS[3])
    assert last.post("/v1/decisions", json={**log[1], "state": signed_by_new}).status_code == 200
    assert last.post("/v1/decisions", json={**log[1], "state": signed_by_old}).status_code == 422


def test_both_steps_at_once_would_lose_cooks() -> None:
    assert 422 in statuses((server(STEPS[0]), server(STEPS[2])))
