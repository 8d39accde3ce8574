"""What one would pick instead, on the same simulated cooks: `python -m tests.bench.alternatives [--cooks 4]`.

Time a post, and how well the stops fall into the windows in which a stop is good. All but the last row hear the sound
alone, so that the service is played once without its humidity sensor. ruptures and river are left out where they are not
installed. Cooks in which the microphone fails or the power is cut are left out: none of the others knows of either.
"""

from argparse import ArgumentParser
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from time import thread_time_ns

import numpy as np

from service.readings.cook import EMPTY, Cook
from service.readings.settled import Settled
from service.rules.decide import decide
from tests.bench.listeners import FEWEST, NEEDS, Listener, at_hand
from tests.cooks import NOTHING_SAID, POPCORN, FloatArray, read
from tests.simulation import SimulatedCook, simulate
from tests.simulation.score import outcome, stop_figures

KINDS = ("regular", "snack", "jumbo", "low-power", "noisy", "missed", "stale", "coated")

Decider = Callable[[Cook, int], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """When a cook was stopped (s; None: never), and the processor time of each post after FEWEST pops (us)."""

    stop_s: float | None
    took_us: list[float]


def service(*, with_humidity: bool) -> Decider:
    """The service, carrying what it settled from post to post."""
    settled: Settled | None = None

    def stops(cook: Cook, as_of_ms: int) -> bool:
        nonlocal settled
        seen = cook if with_humidity else Cook.of(pops_s=cook.pops_ms / 1000.0)
        decision = decide(programme=POPCORN, setup=NOTHING_SAID, cook=seen, as_of_ms=as_of_ms, settled=settled)
        settled = decision.settled
        return decision.decision == "stop"

    return stops


def hearing(listener: Listener) -> Decider:
    """Another way to decide, given the pops alone."""

    def stops(cook: Cook, as_of_ms: int) -> bool:
        pops_s: FloatArray = cook.pops_ms / 1000.0
        return listener(pops_s, as_of_ms / 1000.0)

    return stops


def played(cook: SimulatedCook, decider: Decider) -> Played:
    """Post after post until it stops."""
    so_far, took_us = EMPTY, []
    for post in cook.log:
        so_far = so_far.merged(read(post))
        as_of_ms = round(1000.0 * post["as_of"])
        began_ns = thread_time_ns()
        stops = decider(so_far, as_of_ms)
        if so_far.pops_ms.size >= FEWEST:
            took_us.append((thread_time_ns() - began_ns) / 1000.0)
        if stops:
            return Played(stop_s=as_of_ms / 1000.0, took_us=took_us)
    return Played(stop_s=None, took_us=took_us)


def ways() -> Iterator[tuple[str, Callable[[], Decider]]]:
    """Every way to decide by its name, made anew for each cook."""
    yield "the service, sound alone", lambda: service(with_humidity=False)
    for name, make in at_hand().items():
        yield name, lambda make=make: hearing(make())
    yield "the service, sound and steam", lambda: service(with_humidity=True)


def main() -> None:
    """Print a row for each way."""
    parser = ArgumentParser(prog="python -m tests.bench.alternatives", description=__doc__.partition(":")[0])
    parser.add_argument("--cooks", type=int, default=4, help="cooks of each kind (4)")
    parser.add_argument("--seed", type=int, default=700, help="the first seed (700)")
    asked = parser.parse_args()
    seeds = range(asked.seed, asked.seed + asked.cooks)
    cooks = [simulate(kind, seed, network=False) for kind in KINDS for seed in seeds]
    truths = [outcome(cook, []) for cook in cooks]
    print(f"{len(cooks)} cooks")
    print(f"{'':30}{'us a post':>10}{'to ours':>9}{'in window':>11}{'off by':>8}{'p90':>7}{'bias':>7}", end="")
    print(f"{'early':>7}{'late':>6}{'never':>7}")
    ours_us = None
    for name, make in ways():
        all_played = [played(cook, make()) for cook in cooks]
        us = float(np.median(np.concatenate([one.took_us for one in all_played])))
        ours_us = us if ours_us is None else ours_us
        row = stop_figures(truths, [one.stop_s for one in all_played])
        print(f"{name:30}{us:10.0f}{us / ours_us:9.1f}{row['in_window']:11.0%}{row['distance_median_s']:7.1f}s", end="")
        print(
            f"{row['distance_p90_s']:6.1f}s{row['bias_median_s']:+6.1f}s{row['early']:7.0%}{row['late']:6.0%}", end=""
        )
        print(f"{row['never_stopped']:7.0f}", flush=True)
    if missing := sorted({library for name, library in NEEDS.items() if name not in at_hand()}):
        print(f"left out, not installed: {', '.join(missing)}")


if __name__ == "__main__":
    main()
