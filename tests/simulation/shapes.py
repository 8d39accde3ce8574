"""How cooks differ from each other, ours beside recorded ones: `python -m tests.simulation.shapes [--program reheat] [FOLDER]`.

Nothing published says how much. The middle and the spread from cook to cook of what a truth tells. Of bags: how long their pops
take, how lopsided they are, when they open and how long after their opening and their median pop they are typically done. Of
meals: how long after the beginning of steam the core is hot, how long they then keep, and the heat that they took to steam. Only
kinds in which food, oven and power are as usual, and no pause moves the times.
"""

from argparse import ArgumentParser
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tests.simulation import popcorn_kinds, reheat_kinds
from tests.simulation.kernels import FloatArray
from tests.simulation.recorded import recorded_cooks
from tests.simulation.reheats import simulate_reheat
from tests.simulation.simulator import simulate

Truth = Mapping[str, Any]
HEADING = f"{'':46}{'middle':>8}{'spread':>8}"
STEAMS_C = 100.0


def shape_of_bag(truth: Truth) -> dict[str, float]:
    """What one bag's truth tells of its shape; shares are of one."""
    pops_s = np.array(truth["true_pops_s"])
    early_s, median_s, late_s = np.quantile(pops_s, (0.1, 0.5, 0.9))
    typical_s, opened_s = truth["typical_first_two_second_silence_s"], truth["bag_opened_s"]
    earliest_s, latest_s = truth["stop_window_s"]
    return {
        "median pop, s": float(median_s),
        "10 to 90 % of the pops, of the median": float((late_s - early_s) / median_s),
        "10 to 50 % of the pops, of the median": float((median_s - early_s) / median_s),
        "popped when the bag opens, share": float(np.mean(pops_s < opened_s)),
        "typical end, of the opening": typical_s / opened_s,
        "typical end, of the median pop": float(typical_s / median_s),
        "window of a good stop, s": latest_s - earliest_s,
        "never popped, share": truth["never_pop"] / truth["kernels"],
    }


def shape_of_meal(truth: Truth) -> dict[str, float]:
    """What one meal's truth tells of its shape."""
    hot_s, dried_s = truth["stop_window_s"]
    steams_s = truth["steam_began_s"]
    return {
        "steam, s": steams_s,
        "core hot, of the steam": hot_s / steams_s,
        "dried out, of the core's being hot": dried_s / hot_s,
        "rated heat until steam, J/g": truth["rated_w"] * steams_s / truth["load_g"],
    }


def spread_left_of_meals(truths: Sequence[Truth]) -> dict[str, float]:
    """What remains of two spreads, in shares, when what goes with them is known."""
    shapes = [shape_of_meal(truth) for truth in truths]
    steams, hot, heat = (
        np.log([shape[figure] for shape in shapes])
        for figure in ("steam, s", "core hot, of the steam", "rated heat until steam, J/g")
    )
    to_steam = np.log([STEAMS_C - truth["start_c"] for truth in truths])
    small = np.array([1.0 / truth["load_g"] for truth in truths])
    return {
        "core hot, the time to steam being known": _left(hot, steams),
        "rated heat, start and load being known": _left(heat, to_steam, small),
    }


def _left(values: FloatArray, *known: FloatArray) -> float:
    """Standard deviation about the straight line on what is known."""
    columns = np.stack([np.ones_like(values), *known], axis=1)
    off = values - columns @ np.linalg.lstsq(columns, values, rcond=None)[0]
    return float(np.sqrt((off**2).sum() / (len(values) - columns.shape[1])))


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """What is compared of one programme: its kinds, the truth of one of our cooks (kind, seed, wide), and its figures; where
    part of a spread goes with what is known of a cook, `spread_left` is what remains of it.
    """

    kinds: tuple[str, ...]
    truth_of: Callable[[str, int, bool], Truth]
    shape_of: Callable[[Truth], dict[str, float]]
    spread_left: Callable[[Sequence[Truth]], dict[str, float]] | None = None


def _bag(kind: str, seed: int, wide: bool) -> Truth:
    return simulate(kind, seed, network=False, wide=wide).truth


def _meal(kind: str, seed: int, wide: bool) -> Truth:
    return simulate_reheat(kind, seed, network=False, wide=wide).truth


HEATED_OTHERWISE = frozenset({"low-power", "duty-cycle", "paused", "stale", "coated", "soup", "opened-midway"})
COMPARED: Mapping[str, Compared] = {
    "popcorn": Compared(
        kinds=tuple(kind for kind in popcorn_kinds.KINDS if kind not in HEATED_OTHERWISE),
        truth_of=_bag,
        shape_of=shape_of_bag,
    ),
    "reheat": Compared(
        kinds=tuple(kind for kind in reheat_kinds.KINDS if kind not in HEATED_OTHERWISE),
        truth_of=_meal,
        shape_of=shape_of_meal,
        spread_left=spread_left_of_meals,
    ),
}


def told(title: str, compared: Compared, truths: Sequence[Truth]) -> str:
    """A table of the shapes: the mean of each figure, and its standard deviation in shares of that mean."""
    shapes = [compared.shape_of(truth) for truth in truths]
    lines = [f"{title}, {len(shapes)} cooks", HEADING]
    for figure in shapes[0]:
        values = np.array([shape[figure] for shape in shapes])
        lines.append(f"{figure:46}{values.mean():8.3f}{values.std(ddof=1) / values.mean():8.3f}")
    if compared.spread_left is not None:
        lines += [f"{figure:46}{'':8}{left:8.3f}" for figure, left in compared.spread_left(truths).items()]
    return "\n".join(lines)


def main() -> None:
    """Print the shapes of our cooks, usual and wide, and of a folder's."""
    parser = ArgumentParser(prog="python -m tests.simulation.shapes", description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, help="a folder of recorded logs with a truth.json")
    parser.add_argument("--program", choices=list(COMPARED), default="popcorn", help="what is cooked (popcorn)")
    parser.add_argument("--cooks", type=int, default=10, help="cooks of each kind (10)")
    parser.add_argument("--seed", type=int, default=1, help="the first seed (1)")
    asked = parser.parse_args()
    compared = COMPARED[asked.program]
    if asked.folder is not None:
        recorded = recorded_cooks(asked.folder, asked.program)
        print(told("recorded", compared, [one.truth for one in recorded if one.kind in compared.kinds]), end="\n\n")
    for wide in (False, True):
        seeds = range(asked.seed, asked.seed + asked.cooks)
        ours = [compared.truth_of(kind, seed, wide) for kind in compared.kinds for seed in seeds]
        print(told("wide" if wide else "usual", compared, ours), end="\n\n")


if __name__ == "__main__":
    main()
