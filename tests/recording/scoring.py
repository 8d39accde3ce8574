"""How many of the known pops were heard, and how much was heard besides."""

from dataclasses import dataclass

import numpy as np

from service.recording.hearing import Heard, pops_heard
from service.recording.numbers import shipped_numbers
from service.recording.onsets import Pop
from service.recording.sound import Sound
from service.units import FloatArray
from tests.recording.synthesis import Scene, made

WITHIN_S = 0.008


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """Counts over one or more sounds.

    Attributes:
        pops: pops that there were.
        apart: those of them that come after more than the dead time since the pop before.
        found: pops that were heard, each at most once, within WITHIN_S.
        found_apart: those of them that were apart.
        false: sounds that were heard where no pop was.
        seconds: how long the sound was (s).
        late_s: how late pops were heard, one entry each (s).
        certainties: (certainty, whether there was a pop) of all that was heard.
    """

    pops: int
    apart: int
    found: int
    found_apart: int
    false: int
    seconds: float
    late_s: tuple[float, ...]
    certainties: tuple[tuple[float, bool], ...]

    @property
    def detected(self) -> float:
        """Share of all pops that was heard."""
        return self.found / max(self.pops, 1)

    @property
    def detected_apart(self) -> float:
        """Share of the pops that can be told apart that was heard."""
        return self.found_apart / max(self.apart, 1)

    @property
    def false_per_min(self) -> float:
        """False alarms a minute."""
        return 60.0 * self.false / self.seconds


def score(scene: Scene, seed: int) -> Score:
    """Make the sound, listen to it, and compare."""
    samples, pops_s = made(scene, seed)
    return scored(samples, scene.rate_hz, pops_s)


def scored(samples: FloatArray, rate_hz: int, pops_s: FloatArray) -> Score:
    """Listen to a sound with pops at these times."""
    numbers = shipped_numbers()
    heard = list(pops_heard(Sound(rate_hz=rate_hz, samples=samples), numbers, Heard()))
    which = matched(heard, pops_s)
    apart = np.diff(pops_s, prepend=-1.0) > numbers.dead_time_s
    found = {pop for pop in which if pop is not None}
    return Score(
        pops=len(pops_s),
        apart=int(apart.sum()),
        found=len(found),
        found_apart=sum(bool(apart[pop]) for pop in found),
        false=which.count(None),
        seconds=len(samples) / rate_hz,
        late_s=tuple(one.t_s - pops_s[pop] for one, pop in zip(heard, which, strict=True) if pop is not None),
        certainties=tuple((one.certainty, pop is not None) for one, pop in zip(heard, which, strict=True)),
    )


def matched(heard: list[Pop], pops_s: FloatArray) -> list[int | None]:
    """For each sound that was heard, the pop that it was: the first one near it that is not yet taken."""
    which: list[int | None] = []
    first_free = 0
    for one in heard:
        while first_free < len(pops_s) and pops_s[first_free] < one.t_s - WITHIN_S:
            first_free += 1
        if first_free < len(pops_s) and pops_s[first_free] <= one.t_s + WITHIN_S:
            which.append(first_free)
            first_free += 1
        else:
            which.append(None)
    return which
