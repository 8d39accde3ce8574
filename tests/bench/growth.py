"""What grows with a cook and what does not: `python -m tests.bench.growth`.

The cost of a decision and of a whole request, the length of the state against the least that any code could need, and the
memory of the process, after ever longer histories.

The pops of a bag are n independent times of one normal density, kept without their order: their entropy in whole
milliseconds is n h - log2(n!) bits, h that of one time.
"""

from argparse import ArgumentParser
from collections.abc import Callable
from math import e, lgamma, log, log2, pi
from pathlib import Path

import numpy as np

from service.readings.cook import EMPTY, Cook
from service.readings.packing import Packed, pack
from service.readings.settled import Settled
from service.rules.decide import decide
from service.web.tokens import Tokens
from tests.bench.histories import AS_OF_S, body, history
from tests.bench.timing import side_by_side
from tests.bench.wsgi import KEY, answered, application, caller
from tests.cooks import NOTHING_SAID, POPCORN

POPS = (10, 100, 400, 1000, 2000)
SPREAD_S = 13.0
_BAGS = 6


def entropy_bits(pops: int) -> float:
    """Of so many pops, in whole milliseconds."""
    one = log2(SPREAD_S * 1000.0 * (2.0 * pi * e) ** 0.5)
    return pops * one - lgamma(pops + 1.0) / log(2.0)


def decisions(pops: int) -> Callable[[], object]:
    """A decision about each of some bags: what a bag makes of the estimators differs more than what its size does."""
    cooks = [history(pops, seed=seed).cook() for seed in range(_BAGS)]

    def call() -> None:
        for cook in cooks:
            decide(programme=POPCORN, setup=NOTHING_SAID, cook=cook, as_of_ms=round(1000.0 * AS_OF_S))

    return call


def requests(pops: int) -> Callable[[], object]:
    """A whole request about each of the same bags."""
    app, calls = application(), []
    for seed in range(_BAGS):
        told = history(pops, seed=seed)
        first = body(program="popcorn", readings=told.before, as_of=AS_OF_S - 1.0)
        state = answered(caller(app, "/v1/decisions", first))["state"]
        sent = body(readings=told.lately, as_of=AS_OF_S, state=state)
        calls.append(caller(app, "/v1/decisions", sent))
    return lambda: [call() for call in calls]


def state_characters(pops: int) -> float:
    """Characters of the state that the pops alone take, the mean over some bags."""
    tokens = Tokens((KEY,), purpose="cook state", longest=10**7)
    settled = Settled(as_of_ms=0, stop_ms=None, stop_rule=None, nudge_ms=None)

    def characters(cook: Cook) -> int:
        return len(tokens.seal(pack(Packed(programme="popcorn", setup_json=b"{}", settled=settled, cook=cook))))

    bags = [Cook.of(pops_s=history(pops, seed=seed).before["pops"]) for seed in range(_BAGS)]
    return float(np.mean([characters(bag) - characters(EMPTY) for bag in bags]))


def resident_mb() -> float:
    """Resident memory of this process (MB, Linux)."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * 4096 / 1e6


def main() -> None:
    """Print a row for each length of history."""
    parser = ArgumentParser(prog="python -m tests.bench.growth", description=__doc__.partition(":")[0])
    parser.add_argument("--turns", type=int, default=60, help="how often each is timed (60)")
    turns = parser.parse_args().turns
    calls = {str(pops): requests(pops) for pops in POPS}
    began_mb = resident_mb()
    decided = side_by_side({str(pops): decisions(pops) for pops in POPS}, turns=turns)
    asked = side_by_side(calls, turns=turns)
    ended_mb = resident_mb()
    print(f"{'pops':>6}{'decision us':>13}{'to 100':>8}{'request us':>12}{'to 100':>8}", end="")
    print(f"{'state/pop':>11}{'bits':>7}{'entropy':>9}{'over':>7}")
    for pops in POPS:
        one, whole = decided[str(pops)].median_us, asked[str(pops)].median_us
        characters = state_characters(pops) / pops
        least = entropy_bits(pops) / pops
        print(f"{pops:6}{one / _BAGS:13.0f}{one / decided['100'].median_us:8.2f}", end="")
        print(f"{whole / _BAGS:12.0f}{whole / asked['100'].median_us:8.2f}", end="")
        print(f"{characters:11.2f}{6.0 * characters:7.2f}{least:9.2f}{6.0 * characters / least - 1.0:7.0%}")
    print("\nstate/pop: characters of 6 bits each, signature and fixed part left out; entropy: bits a pop at the least")
    answers = turns * _BAGS * len(POPS)
    print(f"memory: {began_mb:.1f} MB before and {ended_mb:.1f} MB after {answers} requests of all lengths")


if __name__ == "__main__":
    main()
