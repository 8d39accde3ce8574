"""Which server answers is all the same: three of them take turns at one cook, and come and go."""

import json
import random
import re
from collections import Counter
from collections.abc import Iterator

import pytest

from tests.deploy.client import Client
from tests.deploy.cooks import logs, undisturbed
from tests.deploy.front import NGINX, Front, fronted
from tests.deploy.processes import Server, start, until, wait_for
from tests.ports import free_port

pytestmark = pytest.mark.skipif(NGINX is None, reason="nginx is not installed: nothing can stand before the servers")

COOKS = 2
SERVERS = 3
KEY = "a-key-of-the-tests"


@pytest.fixture(scope="module")
def servers() -> Iterator[list[Server]]:
    running = [start(free_port(), workers=1) for _ in range(SERVERS)]
    try:
        for server in running:
            wait_for(server)
        yield running
    finally:
        for server in running:
            if not server.log.closed:
                server.stop()


def answered_by(front: Front) -> list[str]:
    """The server behind each answer so far."""
    return [found[1] for line in front.access_log() if (found := re.search(r"upstream=\S*?([\d.:]+) ", line))]


def test_posts_of_one_cook_are_answered_by_every_server_and_none_is_missed(servers: list[Server]) -> None:
    """Each post goes to the next server; what they say together is what one says alone."""
    with fronted([server.port for server in servers]) as front, Client(front.port, front=front, key=KEY) as client:
        said = client.cook(logs(COOKS)[0])
        assert until(lambda: len(answered_by(front)) == len(said), 5.0)
        seen = Counter(answered_by(front))
    assert tuple(said) == undisturbed(COOKS)[0]
    assert len(seen) == SERVERS
    assert max(seen.values()) - min(seen.values()) <= 1


def test_servers_that_die_and_return_change_no_decision(servers: list[Server]) -> None:
    """Before each fourth post a server that was drawn is killed, or one that was killed is started again."""
    rng = random.Random(20)  # noqa: S311 (a test that repeats)
    disturbed, killed = 0, None
    with fronted([server.port for server in servers]) as front:
        for log, expected in zip(logs(COOKS), undisturbed(COOKS), strict=True):
            state: dict[str, str] = {}
            with Client(front.port, front=front, key=KEY) as client:
                for at, post in enumerate(log):
                    if at % 4 == 3:
                        killed = killed_or_restarted(servers, killed, rng)
                        disturbed += 1
                    said = client.post(json.dumps({**post, **state}).encode())
                    assert said == expected[at]
                    state = {"state": json.loads(said)["state"]}
                assert client.retries == 0
    assert disturbed > SERVERS


def killed_or_restarted(servers: list[Server], killed: int | None, rng: random.Random) -> int | None:
    """Kill a server, or bring back the one that was killed; which one is down now."""
    if killed is None:
        down = rng.randrange(len(servers))
        servers[down].kill()
        return down
    servers[killed] = start(servers[killed].port, workers=1)
    wait_for(servers[killed])
    return None
