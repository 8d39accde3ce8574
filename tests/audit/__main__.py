"""How often the control of a simulated oven is judged rightly: `python -m tests.audit --help`. Minutes, not seconds."""

from argparse import ArgumentParser
from collections import Counter
from collections.abc import Iterator

import numpy as np

from service.audit.control import Control, what_it_follows
from tests.audit.controls import CONTROLS, cues_of
from tests.calibration.one_oven import bag_in, drawn_oven

SIZES = ("snack", "regular", "jumbo")


def main() -> None:
    """Judge every control in every oven, and print how often rightly, wrongly and not at all."""
    parser = ArgumentParser(prog="python -m tests.audit", description=__doc__)
    parser.add_argument("--ovens", type=int, default=40, help="how many ovens (40)")
    parser.add_argument("--cooks", type=int, default=8, help="cooks in each (8)")
    parser.add_argument("--sizes", type=int, default=3, choices=(1, 2, 3), help="sizes of bag (3)")
    parser.add_argument("--seed", type=int, default=1, help="the first oven (1)")
    parser.add_argument(
        "--unsaid", action="store_true", help="nobody says the rating of the oven and the mass of the bag"
    )
    asked = parser.parse_args()
    judged: dict[str, list[Control]] = {control: [] for control in CONTROLS}
    for oven in range(asked.seed, asked.seed + asked.ovens):
        for control, found in judged_in(oven, asked.cooks, asked.sizes, says_setup=not asked.unsaid):
            judged[control].append(found)
    for control, every in judged.items():
        print(row(control, every))


def judged_in(oven: int, cooks: int, sizes: int, *, says_setup: bool) -> Iterator[tuple[str, Control]]:
    """Every control with what is made of it in one oven."""
    recipe = drawn_oven(oven)
    bags = [bag_in(recipe, SIZES[-1 - cook % sizes], 1000 * oven + cook) for cook in range(cooks)]
    for control, (_, ends) in CONTROLS.items():
        stops_s = ends(bags, np.random.default_rng(oven))
        yield control, what_it_follows(cues_of(bags, stops_s, says_setup=says_setup))


def row(control: str, judged: list[Control]) -> str:
    """Shares of right, wrong and open answers, and what the wrong ones were."""
    truth, _ = CONTROLS[control]
    answers = Counter(one.follows for one in judged)
    right, unsaid = answers[truth] / len(judged), answers[None] / len(judged)
    wrong = {kind: count for kind, count in answers.items() if kind not in (truth, None)}
    return f"{control:16} right {right:6.3f}  open {unsaid:6.3f}  wrong {1 - right - unsaid:6.3f} {wrong or ''}"


if __name__ == "__main__":
    main()
