"""Write the invented cooks anew: `python -m tests.commands.write_demonstration`.

They are simulated; nothing in them was recorded. `cookstop demonstrate` plays the first, the page at `/` lists them all:
whatever stands in the folder as NAME.ndjson beside NAME-truth.json.
"""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.simulation import SimulatedCook, simulate

FOLDER = Path(__file__).parents[2] / "service" / "demonstration"


@dataclass(frozen=True, slots=True, kw_only=True)
class Invented:
    """A cook to be written: what the simulator draws it from, and what is said of it."""

    name: str
    kind: str
    seed: int
    network: bool
    title: str
    shows: str


COOKS = (
    Invented(
        name="popcorn",
        kind="regular",
        seed=27,
        network=False,
        title="Popcorn, a regular bag",
        shows="Both sensors work, over a clean link.",
    ),
    Invented(
        name="popcorn-door-opened",
        kind="paused",
        seed=3,
        network=False,
        title="Popcorn, the door opened midway",
        shows="A silence that means nothing: the heating was off.",
    ),
    Invented(
        name="popcorn-in-pulses",
        kind="duty-cycle",
        seed=3,
        network=False,
        title="Popcorn, the heat in pulses",
        shows="The oven lowers its power by switching on and off.",
    ),
    Invented(
        name="popcorn-microphone-dies",
        kind="mic-dies",
        seed=4,
        network=False,
        title="Popcorn, the microphone dies",
        shows="The sound ends too early, and the steam leads on.",
    ),
    Invented(
        name="popcorn-steam-unseen",
        kind="humidity-dead",
        seed=4,
        network=True,
        title="Popcorn, the humidity sensor is dead",
        shows="Only the sound leads, and readings come late, twice and shuffled.",
    ),
    Invented(
        name="popcorn-weak-oven",
        kind="low-power",
        seed=3,
        network=True,
        title="Popcorn, a weak oven, a bad link",
        shows="Everything takes longer, and readings come late, twice and shuffled.",
    ),
)


def log_text(cook: SimulatedCook) -> str:
    """The posts, one a line."""
    return "".join(json.dumps(post, separators=(",", ":")) + "\n" for post in cook.log)


def truth_of(invented: Invented, cook: SimulatedCook) -> dict[str, Any]:
    """What is said of a cook beside its log."""
    return {
        "title": invented.title,
        "shows": invented.shows,
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
    """Simulate the cooks and write both files of each."""
    for invented in COOKS:
        cook = simulate(invented.kind, invented.seed, network=invented.network)
        (FOLDER / f"{invented.name}.ndjson").write_text(log_text(cook), encoding="utf-8")
        truth = json.dumps(truth_of(invented, cook), indent=2) + "\n"
        (FOLDER / f"{invented.name}-truth.json").write_text(truth, encoding="utf-8")


if __name__ == "__main__":
    main()
