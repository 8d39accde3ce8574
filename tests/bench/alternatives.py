"""What one would pick instead, on the same simulated cooks: `python -m tests.bench.alternatives [--cooks 4]`.

Every way to decide is asked post after post until it stops, all taking turns at each post, once by the sound alone and once
with the steam. A row gives the processor time of a post (the median over those after the first 25 pops), and how well the stops
fall into the windows in which a stop is good. Cooks whose microphone fails are left out unless asked for, since the service
alone looks for that. ruptures and river are left out where they are not installed.
"""

import sys
from argparse import ArgumentParser
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from time import thread_time_ns

import click
import numpy as np

from service.evidence.acoustic import listened_until_s
from service.evidence.moisture import moisture_evidence
from service.forecast.popcorn_model import popcorn_model
from service.programs.heating import heating_clock
from service.readings.cook import EMPTY, Cook
from service.readings.heating import HeatingClock
from service.readings.setup import Setup
from service.rules.decide import decide
from tests.bench.listeners import FEWEST, NEEDS, Heard, Listener, at_hand
from tests.cooks import POPCORN, read
from tests.simulation import SimulatedCook, simulate
from tests.simulation.popcorn_kinds import KINDS as EVERY_KIND
from tests.simulation.score import Outcome, outcome, stop_figures

KINDS = (
    "regular", "snack", "jumbo", "low-power", "duty-cycle", "noisy", "missed", "stale", "coated", "paused", "early-strays"
)  # fmt: skip
SENSES = {"by sound alone": ("acoustic",), "by sound and steam": ("acoustic", "moisture")}
"""What a way hears, and what the service is told that the appliance has."""
_SERVICE = "the service"
_HUMIDITY = ("humidity_ms", "humidity_permille", "air_decidegrees")
_GAP_S, _LEAD_S = POPCORN.number("gap_s"), POPCORN.number("decision_lead_s")
_DEAD_S, _LAG_S = POPCORN.number("dead_time_s"), POPCORN.number("link_lag_s")

Decider = Callable[[Cook, HeatingClock, Heard], bool]


@dataclass(slots=True, kw_only=True)
class Played:
    """One way on one cook: when it stopped (s; None: never), and the processor time of each post after FEWEST pops (us)."""

    decider: Decider
    stop_s: float | None = None
    took_us: list[float] = field(default_factory=list)

    def ask(self, cook: Cook, clock: HeatingClock, heard: Heard) -> None:
        """Ask about a post, unless it has stopped."""
        if self.stop_s is not None:
            return
        began_ns = thread_time_ns()
        stops = self.decider(cook, clock, heard)
        if heard.pops_u_s.size >= FEWEST:
            self.took_us.append((thread_time_ns() - began_ns) / 1000.0)
        if stops:
            self.stop_s = clock.as_of_s


def service(sensors: tuple[str, ...]) -> Decider:
    """The service: from the readings themselves, its own heating clock and all, going on from what it settled."""
    setup, settled = Setup(sensors=sensors), None

    def stops(cook: Cook, clock: HeatingClock, heard: Heard) -> bool:
        nonlocal settled
        as_of_ms = round(1000.0 * clock.as_of_s)
        decision = decide(programme=POPCORN, setup=setup, cook=cook, as_of_ms=as_of_ms, settled=settled)
        settled = decision.settled
        return decision.decision == "stop"

    return stops


def by(listener: Listener) -> Decider:
    """Another way, which is done with the cook where its moment is as near as the service stops ahead of one."""

    def stops(cook: Cook, clock: HeatingClock, heard: Heard) -> bool:
        at_u_s = listener(heard)
        return at_u_s is not None and clock.cook_s_after(at_u_s - clock.now_u_s) <= _LEAD_S

    return stops


def ways(hears: str) -> dict[str, Decider]:
    """Every way to decide about one cook, by its name; the service first."""
    return {_SERVICE: service(SENSES[hears])} | {name: by(make()) for name, make in at_hand().items()}


def play(cook: SimulatedCook) -> dict[tuple[str, str], Played]:
    """Post after post to every way in turn, by what it hears and its name."""
    every = {(hears, name): Played(decider=way) for hears in SENSES for name, way in ways(hears).items()}
    both = EMPTY
    for post in cook.log:
        both = both.merged(read(post))
        as_of_ms = round(1000.0 * post["as_of"])
        clock = heating_clock(POPCORN, both, as_of_ms)
        of_sound = replace(both, **dict.fromkeys(_HUMIDITY, EMPTY.pops_ms))
        given = {hears: (one, clock, heard(one, clock)) for hears, one in zip(SENSES, (of_sound, both), strict=True)}
        for (hears, _), one in every.items():
            one.ask(*given[hears])
    return every


def heard(cook: Cook, clock: HeatingClock) -> Heard:
    """What the others are given of a cook."""
    steam = moisture_evidence(cook, popcorn_model(POPCORN).moisture, clock.as_of_s).steam
    pops_u_s = np.sort(clock.full_power_s(cook.pops_ms / 1000.0))
    until_u_s = clock.full_power_s(max(listened_until_s(cook, clock.as_of_s, _LAG_S), 0.0))
    return Heard(
        pops_u_s=pops_u_s,
        until_u_s=max(until_u_s, float(pops_u_s[-1])) if pops_u_s.size else until_u_s,
        now_u_s=clock.now_u_s,
        gap_u_s=_GAP_S * clock.on_level(),
        dead_u_s=_DEAD_S * clock.on_level(),
        looks_for_steam=cook.humidity_ms.size > 0,
        onset_u_s=None if steam is None or steam.onset_s is None else clock.full_power_s(steam.onset_s),
    )


def main() -> None:
    """Print a row for each way."""
    parser = ArgumentParser(prog="python -m tests.bench.alternatives", description=__doc__.partition(":")[0])
    parser.add_argument("--cooks", type=int, default=4, help="cooks of each kind (4)")
    parser.add_argument("--seed", type=int, default=700, help="the first seed (700)")
    parser.add_argument("--kinds", nargs="+", choices=[*EVERY_KIND], default=KINDS, metavar="KIND", help="other kinds")
    asked = parser.parse_args()
    drawn = [(kind, asked.seed + number) for kind in asked.kinds for number in range(asked.cooks)]
    truths, all_played = [], []
    with click.progressbar(drawn, label="cooks", file=sys.stderr, hidden=not sys.stderr.isatty()) as bar:
        for kind, seed in bar:
            cook = simulate(kind, seed, network=False)
            truths.append(outcome(cook, []))
            all_played.append(play(cook))
    print(f"{len(drawn)} cooks from seed {asked.seed}")
    for hears in SENSES:
        _print_rows(
            hears, truths, [{name: one for (of, name), one in each.items() if of == hears} for each in all_played]
        )
    if missing := sorted({library for name, library in NEEDS.items() if name not in at_hand()}):
        print(f"\nleft out, not installed: {', '.join(missing)}")


def _print_rows(hears: str, truths: Sequence[Outcome], all_played: Sequence[dict[str, Played]]) -> None:
    print(
        f"\n{hears:26}{'us a post':>10}{'to ours':>9}{'in, 4 s':>9}{'in':>6}{'far':>6}{'off by':>8}{'p90':>7}", end=""
    )
    print(f"{'bias':>8}{'early':>7}{'late':>6}{'never':>7}")
    us = {name: float(np.median([took for one in all_played for took in one[name].took_us])) for name in all_played[0]}
    for name in us:
        row = stop_figures(truths, [one[name].stop_s for one in all_played])
        print(f"{name:26}{us[name]:10.0f}{us[name] / us[_SERVICE]:9.2f}{row['in_window']:9.0%}", end="")
        print(f"{row['in_window_no_grace']:6.0%}{row['far_misses']:6.0%}{row['distance_median_s']:7.1f}s", end="")
        print(
            f"{row['distance_p90_s']:6.1f}s{row['bias_median_s']:+7.1f}s{row['early']:7.0%}{row['late']:6.0%}", end=""
        )
        print(f"{row['never_stopped']:7.0f}", flush=True)


if __name__ == "__main__":
    main()
