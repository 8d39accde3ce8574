"""Write the invented cooks anew: `python -m tests.commands.write_demonstration`.

They are simulated; nothing in them was recorded. `cookstop demonstrate` plays the first, the page at `/` lists them all:
whatever stands in the folder as NAME.ndjson beside NAME-truth.json.
"""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.simulation import SimulatedCook, simulate, simulate_reheat

ABOUT = {
    "popcorn": "An invented cook: a simulated bag of popcorn in a simulated oven. Nothing in it was recorded.",
    "reheat": "An invented cook: a simulated meal in a simulated oven. Nothing in it was recorded.",
}
WINDOW_MEANS = {
    "popcorn": "from when one attentive listener in ten would have heard the first two seconds without a pop after the peak,"
    " to when pops are expected every two seconds",
    "reheat": "from when the coldest part of the food reaches 74 degC to when the food dries out",
}
# What else of the truth is told.
TOLD = ("stop_window_s", "kernels", "bag_opened_s", "steam_began_s", "start_c")
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

    def cooked(self) -> SimulatedCook:
        """The cook, simulated."""
        if self.name.startswith("reheat"):
            return simulate_reheat(self.kind, self.seed, self.network, says_setup=True)
        return simulate(self.kind, self.seed, network=self.network)


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
    Invented(
        name="reheat",
        kind="plate",
        seed=3,
        network=False,
        title="Reheat, a plate of food",
        shows="Steam alone tells how much food there is, how cold it was, and when its core is hot.",
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
        "about": ABOUT[cook.program],
        "invented": True,
        "made_by": f"tests/commands/write_demonstration.py: kind {cook.kind}, seed {cook.seed}",
        "stop_window_means": WINDOW_MEANS[cook.program],
        **{name: cook.truth[name] for name in TOLD if name in cook.truth},
    }


def main() -> None:
    """Simulate the cooks and write both files of each."""
    for invented in COOKS:
        cook = invented.cooked()
        (FOLDER / f"{invented.name}.ndjson").write_text(log_text(cook), encoding="utf-8")
        truth = json.dumps(truth_of(invented, cook), indent=2) + "\n"
        (FOLDER / f"{invented.name}-truth.json").write_text(truth, encoding="utf-8")


if __name__ == "__main__":
    main()
