"""What a profile is worth: `python -m tests.calibration.lift --help`. Minutes.

Profiles are fitted from the first cooks of an invented oven, and fresh bags of the same oven are decided with and without
them, with both sensors and with one alone. Told is the share of stops in the window, without grace and with 4 s of it, and
what it has gained over no profile on the same bags, give or take what chance makes of so many ovens (95 %).

What there is to gain at all: `--true` adds a profile of the true values, read off as many bags as tell them, and a cook that
ends at its typical moment itself, as near as an answer a second comes to it.
"""

from argparse import ArgumentParser
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from math import ceil

import numpy as np

from service.audit.tails import t_quantile
from service.calibration.calibrate import calibrate
from service.readings.cook import EMPTY, Cook
from service.readings.settled import Settled
from service.readings.setup import Fitted, OvenProfile, Setup
from service.rules.decide import decide
from tests.calibration.labelled import POPCORN, SIZES, bags_of, oven_of, traces_of
from tests.calibration.one_oven import UNUSUAL, BagCooked, NeverFinished, bag_in
from tests.calibration.truths import true_profile

FITTED_FROM = (3, 10)
TRUE_FROM = 30
GRACES_S = (0.0, 4.0)
SENSORS: Mapping[str, tuple[str, ...] | None] = {"both": None, "steam": ("moisture",), "sound": ("acoustic",)}
_SILENT = {"pops_ms": EMPTY.pops_ms}
_DRY = {name: getattr(EMPTY, name) for name in ("humidity_ms", "humidity_permille", "air_decidegrees")}
_WITHOUT = {"both": {}, "steam": _SILENT, "sound": _DRY}

Name = tuple[str, str, str]


def stop_s(cook: Cook, setup: Setup, until_s: float) -> float:
    """When the service stops this cook, asked each second; `until_s` where it never does."""
    settled: Settled | None = None
    for as_of_ms in range(20_000, round(until_s * 1000.0), 1000):
        decision = decide(programme=POPCORN, setup=setup, cook=cook, as_of_ms=as_of_ms, settled=settled)
        if decision.decision == "stop":
            return as_of_ms / 1000.0
        settled = decision.settled
    return until_s


def outside_s(bag: BagCooked, stopped_s: float) -> float:
    """How far a stop lies outside the window of its cook (s); 0 in it."""
    return max(bag.window.earliest_s - stopped_s, stopped_s - bag.window.latest_s, 0.0)


def profiles(kind: str, seed: int, *, with_true: bool) -> dict[str, OvenProfile | None]:
    """No profile, those from some cooks, and where it is wanted the true one."""
    bags = bags_of(kind, seed, TRUE_FROM if with_true else max(FITTED_FROM))
    traces = traces_of(bags[: max(FITTED_FROM)], seed)
    every = {f"from {cooks}": calibrate(traces[:cooks], POPCORN).profile for cooks in FITTED_FROM}
    return {"default": None} | every | ({"true": true_values(kind, seed, bags)} if with_true else {})


def true_values(kind: str, seed: int, bags: list[BagCooked]) -> OvenProfile:
    """The profile that these bags show to whoever sees into them; of two truths the middle."""
    truths = true_profile(oven_of(kind, seed), bags).items()
    return OvenProfile(**{name: Fitted(value=(low + high) / 2.0) for name, (low, high) in truths})


def fresh(kind: str, seed: int, cooks: int) -> list[BagCooked]:
    """Bags that no profile has seen."""
    return [bag_in(oven_of(kind, seed), SIZES[cook % 3], 1_000_000 + 1000 * seed + cook) for cook in range(cooks)]


def main() -> None:
    """Decide fresh cooks of every kind of oven with every profile, and print the shares of stops in the window."""
    parser = ArgumentParser(prog="python -m tests.calibration.lift", description=__doc__)
    parser.add_argument("--ovens", type=int, default=8, help="ovens of each kind (8)")
    parser.add_argument("--cooks", type=int, default=6, help="fresh cooks in each (6)")
    parser.add_argument("--seed", type=int, default=101, help="the first oven (101)")
    parser.add_argument("--kinds", nargs="+", default=["usual", *UNUSUAL], help="only these kinds of oven")
    parser.add_argument("--sensors", nargs="+", default=list(SENSORS), help="only with these sensors")
    parser.add_argument("--true", action="store_true", help="also what there is to gain at all")
    asked = parser.parse_args()
    for kind in asked.kinds:
        off: dict[Name, list[float]] = defaultdict(list)
        for seed in range(asked.seed, asked.seed + asked.ovens):
            try:
                every, bags = profiles(kind, seed, with_true=asked.true), fresh(kind, seed, asked.cooks)
            except NeverFinished as never:
                print(f"{kind:12} oven {seed} is left out: {never}", flush=True)
                continue
            for bag in bags:
                for sensors in asked.sensors:
                    cook = replace(bag.cook, **_WITHOUT[sensors])
                    for name, oven in every.items():
                        setup = Setup(rated_w=bag.rated_w, load_g=bag.printed_g, sensors=SENSORS[sensors], oven=oven)
                        off[kind, sensors, name].append(outside_s(bag, stop_s(cook, setup, bag.until_s)))
                    if asked.true:
                        off[kind, sensors, "typical"].append(outside_s(bag, float(ceil(bag.window.typical_s))))
        for (_, sensors, name), outside in off.items():
            print(
                f"{kind:12} {sensors:6} {name:8} {told(outside, off[kind, sensors, 'default'], asked.cooks)}",
                flush=True,
            )


def told(outside: list[float], by_default: list[float], cooks: int) -> str:
    """Shares in the window in per cent, with what is gained over the default; stops are those of one oven after another."""
    shares = []
    for grace_s in GRACES_S:
        inside, before = (np.array(one) <= grace_s for one in (outside, by_default))
        gained = 100.0 * (inside.astype(float) - before).reshape(-1, cooks).mean(axis=1)
        reach = (
            t_quantile(0.975, gained.size - 1) * gained.std(ddof=1) / np.sqrt(gained.size)
            if gained.size > 1
            else np.inf
        )
        won, lost = int((inside & ~before).sum()), int((before & ~inside).sum())
        shares.append(f"{100.0 * inside.mean():5.1f} ({gained.mean():+.1f} +- {reach:.1f}: +{won} -{lost})")
    return f"{'  '.join(shares)}  of {len(outside)}; outside by {np.mean(outside):.1f} s"


if __name__ == "__main__":
    main()
