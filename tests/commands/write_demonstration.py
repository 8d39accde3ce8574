"""Write the cook of `cookstop demonstrate` anew: `python -m tests.commands.write_demonstration`.

It is a simulated cook, invented like all of them; nothing in it was recorded.
"""

import json
from pathlib import Path
from typing import Any

from tests.simulation import SimulatedCook, simulate

FOLDER = Path(__file__).parents[2] / "service" / "demonstration"
KIND, SEED = "regular", 27


def log_text(cook: SimulatedCook) -> str:
    """The posts, one a line."""
    return "".join(json.dumps(post, separators=(",", ":")) + "\n" for post in cook.log)


def truth_of(cook: SimulatedCook) -> dict[str, Any]:
    """What the demonstration says about its cook."""
    return {
        "about": "An invented cook: a simulated bag of popcorn in a simulated oven. Nothing in it was recorded.",
        "invented": True,
        "made_by": f"tests/commands/write_demonstration.py: kind {cook.kind}, seed {cook.seed}",
        "stop_window_s": cook.truth["stop_window_s"],
        "stop_window_means": "from when one attentive listener in ten would have heard the first two seconds without a pop"
        " after the peak, to when pops are expected every two seconds",
        "kernels": cook.truth["kernels"],
        "bag_opened_s": cook.truth["bag_opened_s"],
    }


def main() -> None:
    """Simulate the cook and write both files."""
    cook = simulate(KIND, SEED, network=False)
    (FOLDER / "popcorn.ndjson").write_text(log_text(cook), encoding="utf-8")
    (FOLDER / "popcorn-truth.json").write_text(json.dumps(truth_of(cook), indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
