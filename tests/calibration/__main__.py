"""Profiles of many simulated ovens: how often their intervals hold the truth. `python -m tests.calibration --help`. Minutes."""

from argparse import ArgumentParser
from collections import defaultdict

from service.calibration.calibrate import calibrate
from tests.calibration.labelled import POPCORN, bags_of, oven_of, traces_of
from tests.calibration.one_oven import UNUSUAL, NeverFinished
from tests.calibration.truths import true_profile


def main() -> None:
    """Fit every kind of oven, and print for each value how often its interval holds the truth and how far off it is."""
    parser = ArgumentParser(prog="python -m tests.calibration", description=__doc__)
    parser.add_argument("--ovens", type=int, default=10, help="ovens of each kind (10)")
    parser.add_argument("--cooks", type=int, default=10, help="cooks in each (10)")
    parser.add_argument("--seed", type=int, default=1, help="the first oven (1)")
    asked = parser.parse_args()
    for kind in ("usual", *UNUSUAL):
        held: dict[str, list[bool]] = defaultdict(list)
        off: dict[str, list[float]] = defaultdict(list)
        for seed in range(asked.seed, asked.seed + asked.ovens):
            try:
                bags = bags_of(kind, seed, asked.cooks)
            except NeverFinished as never:
                print(f"{kind} oven {seed} is left out: {never}")
                continue
            profile = calibrate(traces_of(bags, seed), POPCORN).profile
            for name, (low, high) in true_profile(oven_of(kind, seed), bags).items():
                value = getattr(profile, name)
                if value is not None:
                    held[name].append(value.low <= high and low <= value.high)
                    off[name].append(max(low - value.value, value.value - high, 0.0) / max(high, 1e-9))
        print(kind)
        for name, every in held.items():
            median = sorted(off[name])[len(off[name]) // 2]
            print(f"  {name:20} held {sum(every)}/{len(every)}  off by {100.0 * median:.0f} % (median)")


if __name__ == "__main__":
    main()
