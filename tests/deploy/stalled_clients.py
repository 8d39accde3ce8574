"""What a hub without a front gives up: `python -m tests.deploy.stalled_clients`.

Two good hubs ask a server directly, beside clients that begin a request and then fall silent, or drip, and come back when
they are hung up on. Which kind of worker suffers least?
"""

import json
import socket
import threading
from argparse import ArgumentParser
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from http.client import HTTPException
from time import monotonic

from tests.deploy.client import PATH, WAIT_S, Client
from tests.deploy.cooks import logs
from tests.deploy.load import pause
from tests.deploy.measure_workers import KINDS
from tests.deploy.processes import LOOPBACK, serving

HUBS = 2
AGAIN_EVERY_S = 0.5
BEGUN = f"POST {PATH} HTTP/1.1\r\nHost: hub\r\nContent-Type: application/json\r\nContent-Length: 5000\r\n\r\n".encode()
WAYS: Mapping[str, bytes] = {"silent": b"", "dripping": b" "}


def main() -> None:
    """Measure every kind of worker beside stalled clients, print a table."""
    parser = ArgumentParser(prog="python -m tests.deploy.stalled_clients", description=__doc__)
    parser.add_argument("--seconds", type=float, default=15.0, help="how long each takes (15)")
    parser.add_argument("--stalled", type=int, nargs="+", default=[0, 2, 8, 40], help="how many (0 2 8 40)")
    asked = parser.parse_args()
    print("| workers | stalled | answered | p50 ms | worst ms | not answered |\n|---|---|---|---|---|---|")
    for kind in KINDS:
        for way in WAYS:
            for count in asked.stalled:
                if count or way == "silent":
                    found = _cells(beside(kind, way, count, asked.seconds))
                    print(f"| 2 x {kind} | {f'{count} {way}' if count else 'none'} | {found} |", flush=True)


def beside(kind: str, way: str, count: int, seconds: float) -> list[tuple[float, bool]]:
    """How long each post of the good hubs took, and whether it was answered."""
    over = threading.Event()
    with (
        serving(workers=2, COOKSTOP_THREADS=KINDS[kind]) as server,
        stalling(server.port, count, WAYS[way]),
        ThreadPoolExecutor(HUBS) as pool,
    ):
        running = [pool.submit(_post_after_post, server.port, over) for _ in range(HUBS)]
        pause(seconds)
        over.set()
        return [took for one in running for took in one.result()]


def _post_after_post(port: int, over: threading.Event) -> list[tuple[float, bool]]:
    """Ask again and again, for a decision on half a cook."""
    log = logs(1)[0]
    pops = [pop for post in log for pop in post["readings"].get("pops", ())]
    body = json.dumps({"program": "popcorn", "readings": {"pops": pops[: len(pops) // 2]}}).encode()
    took = []
    with Client(port) as client:
        while not over.is_set():
            begun_s = monotonic()
            try:
                answered = client.post_once(body)[0] == 200
            except (OSError, HTTPException):
                answered = False
            took.append((monotonic() - begun_s, answered))
    return took


def _cells(took: Sequence[tuple[float, bool]]) -> str:
    answered = sorted(seconds for seconds, whether in took if whether)
    if not answered:
        return f"0 | none in {WAIT_S:g} s | none | {len(took)}"
    half, worst = 1000.0 * answered[len(answered) // 2], 1000.0 * answered[-1]
    return f"{len(answered)} | {half:.0f} | {worst:.0f} | {len(took) - len(answered)}"


@contextmanager
def stalling(port: int, count: int, drip: bytes) -> Iterator[None]:
    """So many clients that never come to the end of their request."""
    over = threading.Event()
    threads = [threading.Thread(target=_stall, args=(port, drip, over)) for _ in range(count)]
    for thread in threads:
        thread.start()
    # Until each has had time to take its place.
    pause(1.0)
    try:
        yield
    finally:
        over.set()
        for thread in threads:
            thread.join()


def _stall(port: int, drip: bytes, over: threading.Event) -> None:
    while not over.is_set():
        try:
            with socket.create_connection((LOOPBACK, port), 5.0) as connection:
                connection.settimeout(AGAIN_EVERY_S)
                connection.sendall(BEGUN)
                _hold(connection, drip, over)
        except OSError:
            over.wait(AGAIN_EVERY_S)


def _hold(connection: socket.socket, drip: bytes, over: threading.Event) -> None:
    """Hold on until it is hung up on. Raises OSError then, too."""
    while not over.is_set():
        connection.sendall(drip)
        try:
            if not connection.recv(4096):
                return
        except TimeoutError:
            continue


if __name__ == "__main__":
    main()
