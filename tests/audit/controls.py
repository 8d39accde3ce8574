"""Invented controls that end simulated cooks: what an oven's own button may follow."""

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from service.audit.stop_cues import StopCues, cook_s_of, stop_cues
from service.audit.variants import Kind
from service.outcomes.finished import FinishedCook
from service.outcomes.outcome import Outcome
from service.programs.programme import shipped
from service.readings.heating import HeatingClock
from service.readings.setup import Setup
from tests.calibration.one_oven import BagCooked
from tests.simulation.drawing import drawn_parts
from tests.simulation.kernels import FloatArray
from tests.simulation.microphone import Microphone, heard_s
from tests.simulation.popcorn_kinds import USUAL

PEAK_WINDOW_S = 5.0
SIZE_TIMES: Mapping[str, float] = {"snack": 0.72, "regular": 0.95, "jumbo": 1.08}

Control = Callable[[Sequence[BagCooked], np.random.Generator], list[float]]


def timer(bags: Sequence[BagCooked], rng: np.random.Generator) -> list[float]:
    """One time for all bags, within what their logs hold."""
    longest_s = min(bag.until_s for bag in bags) - 1.0
    set_s = min(_typical_s(bags) * rng.uniform(0.75, 1.1), longest_s)
    return [set_s + rng.normal(0.0, 0.2) for _ in bags]


def steam_ratio(bags: Sequence[BagCooked], rng: np.random.Generator) -> list[float]:
    """A ratio of the moment at which the bag opened, with a scatter of its own."""
    return _by_steam(bags, rng, late_s=0.0)


def steam_seen(bags: Sequence[BagCooked], rng: np.random.Generator) -> list[float]:
    """A ratio of the moment at which its own sensor noticed the steam."""
    return _by_steam(bags, rng, late_s=rng.uniform(1.0, 6.0))


def own_microphone(bags: Sequence[BagCooked], rng: np.random.Generator) -> list[float]:
    """The first two seconds of silence after the peak, heard through a microphone of its own."""
    ear = _own_ear(rng)
    return [_too_few_s(heard_s(ear, bag.popped_s, bag.until_s, rng), 1, 2.0) for bag in bags]


def own_count(bags: Sequence[BagCooked], rng: np.random.Generator) -> list[float]:
    """Fewer than three sounds in six seconds after the peak, heard through a microphone of its own."""
    ear = _own_ear(rng)
    return [_too_few_s(heard_s(ear, bag.popped_s, bag.until_s, rng), 3, 6.0) for bag in bags]


def same_microphone(bags: Sequence[BagCooked], rng: np.random.Generator) -> list[float]:
    """The same, heard through the microphone that wrote the log."""
    return [_too_few_s(bag.cook.pops_ms / 1000.0, 1, 2.0) + rng.uniform(0.0, 0.5) for bag in bags]


def size_timer(bags: Sequence[BagCooked], rng: np.random.Generator) -> list[float]:
    """A time for each size of bag."""
    return [_typical_s(bags) * SIZE_TIMES[bag.size] + rng.normal(0.0, 0.3) for bag in bags]


def anything(bags: Sequence[BagCooked], rng: np.random.Generator) -> list[float]:
    """Any time between three quarters of the typical one and somewhat beyond it."""
    return [_typical_s(bags) * rng.uniform(0.75, 1.15) for _ in bags]


CONTROLS: Mapping[str, tuple[Kind, Control]] = {
    "timer": ("timer", timer),
    "steam-ratio": ("steam", steam_ratio),
    "steam-seen": ("steam", steam_seen),
    "own-microphone": ("sound", own_microphone),
    "same-microphone": ("sound", same_microphone),
    "own-count": ("sound", own_count),
    "size-timer": ("something-else", size_timer),
    "anything": ("something-else", anything),
}
"""What each control follows in truth, and how it stops."""


def stopped(bag: BagCooked, stop_s: float, *, says_setup: bool = True) -> FinishedCook:
    """The bag as its oven ended it, to a tenth of a second and within its log."""
    setup = Setup(rated_w=bag.rated_w, load_g=bag.printed_g) if says_setup else Setup()
    stopped_s = round(min(max(stop_s, 20.0), bag.until_s), 1)
    return FinishedCook(setup=setup, cook=bag.cook, outcome=Outcome(stopped_s=stopped_s, stopped_by="oven"))


def cues_of(bags: Sequence[BagCooked], stops_s: Sequence[float], *, says_setup: bool = True) -> list[StopCues]:
    """The cues of all bags as they were stopped."""
    cooks = [stopped(bag, stop_s, says_setup=says_setup) for bag, stop_s in zip(bags, stops_s, strict=True)]
    found = [stop_cues(cook, shipped()["popcorn"]) for cook in cooks]
    return [one for one in found if one is not None]


def _typical_s(bags: Sequence[BagCooked]) -> float:
    return float(np.mean([bag.window.typical_s for bag in bags]))


def _by_steam(bags: Sequence[BagCooked], rng: np.random.Generator, late_s: float) -> list[float]:
    ratio, scatter = rng.uniform(1.2, 1.5), rng.uniform(0.005, 0.03)
    stops_s = []
    for bag in bags:
        clock = HeatingClock.of(bag.cook, round(bag.until_s * 1000.0))
        onset_u_s = float(clock.full_power_s(bag.opened_s + late_s))
        stops_s.append(cook_s_of(clock, ratio * float(np.exp(rng.normal(0.0, scatter))) * onset_u_s))
    return stops_s


def _own_ear(rng: np.random.Generator) -> Microphone:
    return drawn_parts({"it": Microphone}, {"it": {**USUAL["microphone"], "timing": (0.0, 0.5)}}, {}, rng)["it"]


def _too_few_s(sounds_s: FloatArray, least: int, while_s: float) -> float:
    """When there are first fewer than so many sounds in a while, after the densest few seconds."""
    held = np.arange(sounds_s.size) - sounds_s.searchsorted(sounds_s - PEAK_WINDOW_S)
    after = sounds_s[int(held.argmax()) :]
    sparse = np.flatnonzero(after[least:] - after[:-least] >= while_s)
    return float(after[sparse[0]] if sparse.size else after[-least]) + while_s
