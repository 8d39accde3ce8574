"""How often the audit's intervals hold the truth, and its tests cry wolf: `python -m tests.audit.coverage`. A minute."""

from argparse import ArgumentParser
from collections.abc import Callable, Mapping

import numpy as np

from service.audit.comparing import mean_of, paired, welch
from service.audit.intervals import exact_interval, pooled_share, wilson_interval
from service.audit.trends import detrended_difference, trend
from service.audit.variance import analysis_of_variance

LEVEL = 0.95
Repetition = Callable[[np.random.Generator], bool]


def share_of(kernels: int, share: float, method: Callable[..., object]) -> Repetition:
    """One bag of independent kernels."""
    return lambda random: method(int(random.binomial(kernels, share)), kernels, LEVEL).holds(share)  # type: ignore[attr-defined]


def bags_that_differ(bags: int) -> Repetition:
    """Bags of 300 to 500 kernels whose own shares scatter about 8 % (beta, standard deviation 3.8 %)."""

    def once(random: np.random.Generator) -> bool:
        totals = random.integers(300, 500, bags)
        counts = random.binomial(totals, random.beta(4.0, 46.0, bags))
        found = pooled_share(counts.tolist(), totals.tolist(), LEVEL).allowing_for_bags
        return found is not None and found.holds(0.08)

    return once


def few_scorched(bags: int) -> Repetition:
    """Bags of 400 kernels of which one in 400 scorches, so that many bags have none."""

    def once(random: np.random.Generator) -> bool:
        found = pooled_share(random.binomial(400, 1 / 400, bags).tolist(), [400] * bags, LEVEL).allowing_for_bags
        return found is not None and found.holds(1 / 400)

    return once


def mean(random: np.random.Generator) -> bool:
    found = mean_of(random.normal(20.0, 6.0, 4), LEVEL).interval
    return found is not None and found.holds(20.0)


def difference(random: np.random.Generator) -> bool:
    first, second = random.normal(20.0, 6.0, 4), random.normal(26.0, 12.0, 6)
    return welch(first, second, LEVEL).difference.interval.holds(6.0)


def difference_of_pairs(random: np.random.Generator) -> bool:
    shared = random.normal(0.0, 20.0, 6)
    first, second = shared + random.normal(20.0, 3.0, 6), shared + random.normal(26.0, 3.0, 6)
    return paired(first, second, LEVEL).difference.interval.holds(6.0)


def _warming(random: np.random.Generator) -> tuple[np.ndarray, np.ndarray, list[str]]:
    trials = np.tile(np.arange(1.0, 7.0), 2)
    groups = ["A"] * 6 + ["B"] * 6
    return -3.0 * trials + np.repeat((0.0, 6.0), 6) + random.normal(40.0, 5.0, 12), trials, groups


def slope(random: np.random.Generator) -> bool:
    return trend(*_warming(random), LEVEL).slope.interval.holds(-3.0)


def difference_beside_a_trend(random: np.random.Generator) -> bool:
    return detrended_difference(*_warming(random), LEVEL).interval.holds(6.0)


def no_false_alarm(random: np.random.Generator) -> bool:
    """An analysis of variance of nothing but scatter: the interaction is not found at 5 %."""
    brand, power = np.repeat([1, 2, 3], 12).tolist(), np.tile(np.repeat([500, 625], 6), 3).tolist()
    p = analysis_of_variance(random.normal(70.0, 9.0, 36), {"brand": brand, "power": power}).of("brand", "power").p
    return p is not None and p > 1.0 - LEVEL


WHAT: Mapping[str, Repetition] = {
    "exact, 2 % of 60 kernels": share_of(60, 0.02, exact_interval),
    "exact, 5 % of 400 kernels": share_of(400, 0.05, exact_interval),
    "Wilson, 2 % of 60 kernels": share_of(60, 0.02, wilson_interval),
    "Wilson, 5 % of 400 kernels": share_of(400, 0.05, wilson_interval),
    "pooled, 3 bags that differ": bags_that_differ(3),
    "pooled, 8 bags that differ": bags_that_differ(8),
    "pooled, 30 bags that differ": bags_that_differ(30),
    "pooled, 8 bags with hardly any": few_scorched(8),
    "mean of 4": mean,
    "difference of 4 and 6, Welch": difference,
    "difference of 6 pairs": difference_of_pairs,
    "trend over 6 trials": slope,
    "difference beside a trend": difference_beside_a_trend,
    "no false alarm in an analysis of variance": no_false_alarm,
}


def main() -> None:
    """Print how often each interval of 95 % holds the truth."""
    parser = ArgumentParser(prog="python -m tests.audit.coverage", description=__doc__)
    parser.add_argument("--repetitions", type=int, default=1000, help="how many of each (1000)")
    parser.add_argument("--seed", type=int, default=1, help="of the first repetition (1)")
    asked = parser.parse_args()
    for place, (name, once) in enumerate(WHAT.items()):
        random = np.random.default_rng([asked.seed, place])
        held = sum(once(random) for _ in range(asked.repetitions))
        print(f"{name:45} {100.0 * held / asked.repetitions:5.1f} %")


if __name__ == "__main__":
    main()
