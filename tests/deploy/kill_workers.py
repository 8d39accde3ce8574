"""Kill a worker that was drawn, every second, under load: `python -m tests.deploy.kill_workers`.

Hubs post again what was not answered. Every cook must end with the decisions of an undisturbed run, and none may be lost.
"""

import random
from argparse import ArgumentParser
from time import monotonic

from tests.deploy.client import Client
from tests.deploy.load import HEAD, RULE, Load, pause, under_load
from tests.deploy.processes import Server, kill, serving

HUBS = 6


def main() -> None:
    """Kill for as long as asked, print what was found."""
    parser = ArgumentParser(prog="python -m tests.deploy.kill_workers", description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0, help="how long (60)")
    asked = parser.parse_args()
    load, killed = killing(asked.seconds)
    print(f"| seconds | workers killed | {HEAD}\n|---|---|{RULE}\n| {asked.seconds:g} | {killed} | {load.row()}")
    raise SystemExit(bool(load.wrong or load.lost))


def killing(seconds: float) -> tuple[Load, int]:
    """The load, and how many workers were killed under it."""
    with serving(workers=2) as server:
        return under_load(lambda _: Client(server.port), HUBS, lambda: _kill_every_second(server, seconds))


def _kill_every_second(server: Server, seconds: float) -> int:
    rng = random.Random(9)  # noqa: S311 (a victim, no secret)
    killed, end_s = 0, monotonic() + seconds
    while monotonic() < end_s:
        pause(1.0)
        if workers := server.worker_ids():
            kill(rng.choice(workers))
            killed += 1
    return killed


if __name__ == "__main__":
    main()
