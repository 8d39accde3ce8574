"""Full load for a long while: `python -m tests.deploy.soak`. Memory must not grow, and nothing may go wrong."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from time import monotonic

import numpy as np

from tests.deploy.client import Client
from tests.deploy.load import HEAD, RULE, Load, pause, under_load
from tests.deploy.processes import Server, serving

HUBS = 6
SAMPLE_EVERY_S = 5.0
# What a worker takes in its first minute it keeps: caches that fill once.
SETTLED_AFTER_S = 60.0
MOST_MIB_PER_HOUR = 6.0

Samples = dict[int, list[tuple[float, float]]]


def main() -> None:
    """Load for as long as asked, print what was found."""
    parser = ArgumentParser(prog="python -m tests.deploy.soak", description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0, help="how long (10)")
    asked = parser.parse_args()
    load, samples = soaked(60.0 * asked.minutes)
    print(f"| minutes | {HEAD}\n|---|{RULE}\n| {asked.minutes:g} | {load.row()}")
    print("| worker | MiB at first | MiB settled | MiB at last | MiB an hour, once settled |\n|---|---|---|---|---|")
    slopes = []
    for number, (_, taken) in enumerate(sorted(samples.items()), start=1):
        settled = [(at_s, mib) for at_s, mib in taken if at_s >= SETTLED_AFTER_S] or taken
        slopes.append(slope_per_hour(settled))
        print(f"| {number} | {taken[0][1]:.1f} | {settled[0][1]:.1f} | {taken[-1][1]:.1f} | {slopes[-1]:.2f} |")
    sys.exit(bool(load.wrong or load.lost or load.retries or max(slopes) > MOST_MIB_PER_HOUR or len(slopes) != 2))


def soaked(seconds: float) -> tuple[Load, Samples]:
    """The load, and (seconds, MiB) of each worker by its process id."""
    with serving(workers=2) as server:
        return under_load(lambda _: Client(server.port), HUBS, lambda: _sampled(server, seconds))


def slope_per_hour(samples: list[tuple[float, float]]) -> float:
    """By how much memory grows, by least squares."""
    at_s, mib = np.asarray(samples).T
    return 3600.0 * float(np.polyfit(at_s, mib, 1)[0])


def _sampled(server: Server, seconds: float) -> Samples:
    samples: Samples = {}
    begun_s = monotonic()
    while (at_s := monotonic() - begun_s) < seconds:
        for process_id in server.worker_ids():
            samples.setdefault(process_id, []).append((at_s, resident_mib(process_id)))
        pause(min(SAMPLE_EVERY_S, seconds))
    return samples


def resident_mib(process_id: int) -> float:
    """The memory of a process that is in use now."""
    status = Path(f"/proc/{process_id}/status").read_text()
    (kib,) = [line.split()[1] for line in status.splitlines() if line.startswith("VmRSS:")]
    return int(kib) / 1024.0


if __name__ == "__main__":
    main()
