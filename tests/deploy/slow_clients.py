"""Clients that drip their bytes behind the shipped front: `python -m tests.deploy.slow_clients`.

Good hubs post cooks by turns with and without two hundred slow clients beside them. The slow ones must not double the
time within which 99 of 100 good posts are answered.
"""

import socket
import threading
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

from tests.deploy.client import PATH, Client
from tests.deploy.front import HOST, Front, fronted
from tests.deploy.load import HEAD, RULE, Load, pause, under_load
from tests.deploy.processes import LOOPBACK, serving

HUBS = 6
DRIP_EVERY_S = 0.5
HEADERS = f"POST {PATH} HTTP/1.1\r\nHost: {HOST}\r\nContent-Type: application/json\r\nContent-Length: 5000\r\n\r\n"


def main() -> None:
    """Measure with and without, print both."""
    parser = ArgumentParser(prog="python -m tests.deploy.slow_clients", description=__doc__)
    parser.add_argument("--seconds", type=float, default=15.0, help="how long each turn takes (15)")
    parser.add_argument("--turns", type=int, default=3, help="turns of each (3)")
    parser.add_argument("--slow", type=int, default=200, help="slow clients (200)")
    asked = parser.parse_args()
    without, beside, held = compared(asked.seconds, asked.turns, asked.slow)
    print(f"| slow clients | {HEAD}\n|---|{RULE}\n| 0 | {without.row()}\n| {asked.slow} | {beside.row()}")
    print(f"slow clients still held at the end of their turn, the fewest: {held} of {asked.slow}")
    bad = without.wrong or without.lost or beside.wrong or beside.lost
    raise SystemExit(bool(bad or beside.percentile_ms(0.99) >= 2.0 * without.percentile_ms(0.99)))


def compared(seconds: float, turns: int, slow: int) -> tuple[Load, Load, int]:
    """The load without slow clients, the load beside them, and how many of them were still held when a turn ended."""
    without, beside, held = Load(), Load(), slow
    with ExitStack() as stack:
        servers = [stack.enter_context(serving(workers=1)) for _ in range(2)]
        front = stack.enter_context(fronted([server.port for server in servers], metered=False))
        for _ in range(turns):
            without.add(_turn(front, seconds))
            with dripping(front, slow) as drips:
                beside.add(_turn(front, seconds))
                held = min(held, drips.held())
    return without, beside, held


def _turn(front: Front, seconds: float) -> Load:
    load, _ = under_load(lambda at: Client(front.port, front=front, key=f"hub-{at}"), HUBS, lambda: pause(seconds))
    return load


class Drips:
    """Connections that each send a byte now and then."""

    def __init__(self, front: Front, count: int) -> None:
        """Connect, and send all but the body. Each comes from an address of its own, so that no limit helps."""
        trusting = front.trusting()
        self._connections = []
        for at in range(count):
            source = (f"127.0.{1 + at // 250}.{1 + at % 250}", 0)
            plain = socket.create_connection((LOOPBACK, front.port), 10.0, source)
            connection = trusting.wrap_socket(plain, server_hostname=HOST)
            connection.sendall(HEADERS.encode())
            self._connections.append(connection)

    def drip(self, over: threading.Event) -> None:
        """A byte from each, again and again."""
        while not over.wait(DRIP_EVERY_S):
            for connection in list(self._connections):
                try:
                    connection.sendall(b" ")
                except OSError:
                    self._connections.remove(connection)

    def held(self) -> int:
        """How many the front has not hung up on."""
        return len(self._connections)

    def close(self) -> None:
        """Hang up."""
        for connection in self._connections:
            connection.close()


@contextmanager
def dripping(front: Front, count: int) -> Iterator[Drips]:
    """So many slow clients."""
    drips, over = Drips(front, count), threading.Event()
    thread = threading.Thread(target=drips.drip, args=(over,))
    thread.start()
    try:
        yield drips
    finally:
        over.set()
        thread.join()
        drips.close()


if __name__ == "__main__":
    main()
