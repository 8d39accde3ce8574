"""Stop servers under load, as a new version is rolled out: `python -m tests.deploy.stop_under_load`.

Behind the shipped front three servers are stopped and started again in turn: no post may have to be sent again. Without a
front one server is: what it had taken it must answer, and hubs that post again must lose nothing.
"""

from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from time import monotonic

from tests.deploy.client import Client
from tests.deploy.front import fronted
from tests.deploy.load import HEAD, RULE, Load, pause, under_load
from tests.deploy.processes import Server, start, wait_for
from tests.ports import free_port

HUBS = 6
BETWEEN_S = 0.5


def main() -> None:
    """Roll for as long as asked, print what was found."""
    parser = ArgumentParser(prog="python -m tests.deploy.stop_under_load", description=__doc__)
    parser.add_argument("--seconds", type=float, default=30.0, help="how long, for each of the two (30)")
    asked = parser.parse_args()
    print(f"| what | stops | statuses | {HEAD}\n|---|---|---|{RULE}")
    bad = False
    for what, rolled in (("three servers behind the front", behind_the_front), ("one server, alone", alone)):
        load, statuses = rolled(asked.seconds)
        print(f"| {what} | {len(statuses)} | {sorted(set(statuses))} | {load.row()}")
        bad |= bool(load.wrong or load.lost or any(statuses) or (rolled is behind_the_front and load.retries))
    raise SystemExit(bad)


def behind_the_front(seconds: float) -> tuple[Load, list[int]]:
    """The load, and with which status each stopped server ended."""
    with several(3) as servers, fronted([server.port for server in servers], metered=False) as front:
        return under_load(
            lambda at: Client(front.port, front=front, key=f"hub-{at}"), HUBS, lambda: _roll(servers, seconds)
        )


def alone(seconds: float) -> tuple[Load, list[int]]:
    """The same for one server that hubs ask directly."""
    with several(1) as servers:
        port = servers[0].port
        return under_load(lambda _: Client(port), HUBS, lambda: _roll(servers, seconds))


@contextmanager
def several(count: int) -> Iterator[list[Server]]:
    """Servers of one worker each; whichever are in the list at the end are stopped."""
    servers = [start(free_port(), workers=1) for _ in range(count)]
    try:
        for server in servers:
            wait_for(server)
        yield servers
    finally:
        for server in servers:
            if not server.log.closed:
                server.stop()


def _roll(servers: list[Server], seconds: float) -> list[int]:
    statuses: list[int] = []
    end_s = monotonic() + seconds
    while monotonic() < end_s:
        at = len(statuses) % len(servers)
        statuses.append(servers[at].stop())
        servers[at] = start(servers[at].port, workers=1)
        wait_for(servers[at])
        pause(BETWEEN_S)
    return statuses


if __name__ == "__main__":
    main()
