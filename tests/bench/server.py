"""The service over HTTP beside a bare Flask route, under the same gunicorn: `python -m tests.bench.server`.

Every target takes its turn in every round, so that whatever else the machine does troubles them alike; the table gives
medians over the rounds, and the rate as a share of the bare route's in the same round. wrk and the workers share the cores.
Half load is one connection for every two workers. "No thinking" is the service with one decision for all posts: what it
would reach if deciding cost nothing.
"""

import json
from argparse import ArgumentParser
from contextlib import ExitStack
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from tests.bench.histories import AS_OF_S, body, history
from tests.bench.load import Asked, Measured, NoWrk, load
from tests.bench.servers import SERVICE, UNTHINKING, Server, post, served

HISTORIES = (10, 100, 400, 2000)
LARGEST_POPS, LARGEST_HUMIDITY = 15_000, 4_900
_WORKERS = 2
_APPLICATIONS = {name: f"tests.bench.bare:{name}()" for name in ("bare", "reading")} | {
    "unthinking": UNTHINKING,
    "service": SERVICE,
}
_IN_A_POST = 4_000


def main() -> None:
    """Print the table."""
    parser = ArgumentParser(prog="python -m tests.bench.server", description=__doc__.partition(":")[0])
    parser.add_argument("--rounds", type=int, default=3, help="turns of each target (3)")
    parser.add_argument("--seconds", type=int, default=2, help="length of a turn (2)")
    parser.add_argument("--starts", type=int, default=3, help="starts that are timed (3)")
    asked = parser.parse_args()
    told = history(10)
    first = body(program="popcorn", readings=told.before, as_of=AS_OF_S - 1.0)
    with ExitStack() as stack:
        folder = Path(stack.enter_context(TemporaryDirectory()))
        servers = {
            name: stack.enter_context(served(application, first, _WORKERS))
            for name, application in _APPLICATIONS.items()
        }
        targets = _targets(servers)
        try:
            rounds = [
                {
                    name: [
                        load(server, post_, folder, seconds=asked.seconds, connections=connections)
                        for connections in (4 * _WORKERS, max(_WORKERS // 2, 1))
                    ]
                    for name, (server, post_) in targets.items()
                }
                for _ in range(asked.rounds)
            ]
        except NoWrk:
            parser.exit(1, "wrk is not installed: apt-get install wrk\n")
        _print_rates(rounds)
        _print_memory(servers)
    _print_starts(first, asked.starts)


def _targets(servers: dict[str, Server]) -> dict[str, tuple[Server, Asked]]:
    service = servers["service"]
    at_400 = _next_post(service, history(400))
    unthinking = servers["unthinking"]
    first = Asked(path="/v1/decisions", sent=body(program="popcorn", readings=history(400).lately, as_of=AS_OF_S))
    targets = {
        "bare route": (servers["bare"], at_400),
        "the same JSON read": (servers["reading"], at_400),
        "no thinking, no state": (unthinking, first),
        "no thinking, 400 pops": (unthinking, _next_post(unthinking, history(400))),
    }
    for pops in HISTORIES:
        targets[f"{pops} pops"] = (service, _next_post(service, history(pops)))
    largest = history(LARGEST_POPS, humidity=LARGEST_HUMIDITY)
    targets["the largest cook"] = (service, _next_post(service, largest))
    log = (files("service.demonstration") / "popcorn.ndjson").read_bytes()
    lines = len(log.splitlines())
    targets[f"a replay of {lines} lines"] = (
        service,
        Asked(path="/v1/replays", sent=log, media_type="application/x-ndjson"),
    )
    return targets


def _next_post(service: Server, told: Any) -> Asked:
    """The post of the next second, with the state of everything before it."""
    state: dict[str, Any] = {"program": "popcorn"}
    pops, humidity = told.before["pops"], told.before["humidity"]
    for start in range(0, max(len(pops), len(humidity)), _IN_A_POST):
        part = {
            "pops": pops[start : start + _IN_A_POST],
            "humidity": humidity[start : start + _IN_A_POST],
        }
        sent = body(readings=part, as_of=AS_OF_S - 1.0, **state)
        state = {"state": json.loads(post(service.port, "/v1/decisions", sent))["state"]}
    return Asked(path="/v1/decisions", sent=body(readings=told.lately, as_of=AS_OF_S, **state))


def _print_rates(rounds: list[dict[str, list[Measured]]]) -> None:
    print(f"{'':24}{'req/s':>8}{'to bare':>9}{'p50 ms':>8}{'p99 ms':>8}{'CPU us':>8}", end="")
    print(f"{'half load: p50':>16}{'p99':>8}{'p99 to bare':>13}")
    for name in rounds[0]:
        full, half = ([one[name][load_] for one in rounds] for load_ in (0, 1))
        bare_full, bare_half = ([one["bare route"][load_] for one in rounds] for load_ in (0, 1))
        share = _median([mine.per_s / bare.per_s for mine, bare in zip(full, bare_full, strict=True)])
        slowest = _median([mine.p99_ms / bare.p99_ms for mine, bare in zip(half, bare_half, strict=True)])
        print(f"{name:24}{_median([one.per_s for one in full]):8.0f}{share:9.2f}", end="")
        print(f"{_median([one.p50_ms for one in full]):8.2f}{_median([one.p99_ms for one in full]):8.2f}", end="")
        print(f"{_median([one.busy_us for one in full]):8.0f}{_median([one.p50_ms for one in half]):16.2f}", end="")
        print(f"{_median([one.p99_ms for one in half]):8.2f}{slowest:13.2f}")
        if refused := sum(one.refused for one in full + half):
            print(f"  {refused} of these were refused")


def _print_memory(servers: dict[str, Server]) -> None:
    print(f"\n{'memory a worker':24}{'share MB':>9}{'own MB':>8}")
    for name, server in servers.items():
        shared, own = server.memory_mb()
        print(f"{name:24}{shared:9.1f}{own:8.1f}")


def _print_starts(first: bytes, starts: int) -> None:
    """From the start of the command to the first answer: interpreter, imports, tables and workers included."""
    print(f"\n{'start to first answer':24}{'s':>6}")
    took_s: dict[str, list[float]] = {name: [] for name in _APPLICATIONS}
    for _ in range(starts):
        for name, application in _APPLICATIONS.items():
            with served(application, first, _WORKERS) as server:
                took_s[name].append(server.started_s)
    for name, all_s in took_s.items():
        print(f"{name:24}{_median(all_s):6.2f}")


def _median(values: list[float]) -> float:
    return float(np.median(values))


if __name__ == "__main__":
    main()
