"""How bags differ from each other, ours beside recorded ones: `python -m tests.simulation.shapes [FOLDER]`.

Nothing published says how much. The middle and the spread from bag to bag of what a truth tells: how long its pops take, how
lopsided they are, when it opens and how long after its opening and its median pop it is typically done. Only kinds in
which corn, oven and power are as usual, and no pause moves the times.
"""

from argparse import ArgumentParser
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from tests.simulation.popcorn_kinds import KINDS
from tests.simulation.recorded import recorded_cooks
from tests.simulation.simulator import simulate

HEATED_OTHERWISE = frozenset({"low-power", "duty-cycle", "paused", "stale", "coated"})
COMPARED = tuple(kind for kind in KINDS if kind not in HEATED_OTHERWISE)
HEADING = f"{'':42}{'middle':>8}{'spread':>8}"


def shape_of(truth: Mapping[str, Any]) -> dict[str, float]:
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


def told(title: str, truths: Iterable[Mapping[str, Any]]) -> str:
    """A table of the shapes: the mean of each figure, and its standard deviation in shares of that mean."""
    shapes = [shape_of(truth) for truth in truths]
    lines = [f"{title}, {len(shapes)} bags", HEADING]
    for figure in shapes[0]:
        values = np.array([shape[figure] for shape in shapes])
        lines.append(f"{figure:42}{values.mean():8.3f}{values.std(ddof=1) / values.mean():8.3f}")
    return "\n".join(lines)


def main() -> None:
    """Print the shapes of our bags, usual and wide, and of a folder's."""
    parser = ArgumentParser(prog="python -m tests.simulation.shapes", description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, help="a folder of recorded logs with a truth.json")
    parser.add_argument("--cooks", type=int, default=10, help="cooks of each kind (10)")
    parser.add_argument("--seed", type=int, default=1, help="the first seed (1)")
    asked = parser.parse_args()
    if asked.folder is not None:
        recorded = recorded_cooks(asked.folder, "popcorn")
        print(told("recorded", (cook.truth for cook in recorded if cook.kind in COMPARED)), end="\n\n")
    for wide in (False, True):
        seeds = range(asked.seed, asked.seed + asked.cooks)
        ours = (simulate(kind, seed, network=False, wide=wide).truth for kind in COMPARED for seed in seeds)
        print(told("wide" if wide else "usual", ours), end="\n\n")


if __name__ == "__main__":
    main()
