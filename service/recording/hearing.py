"""Listening to a whole recording, block by block."""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from service.recording.levels import Stretch, levels_db, mains_hz, stretches
from service.recording.noise import noise_under
from service.recording.numbers import Numbers
from service.recording.onsets import Pop, pops_in
from service.recording.sound import Sound

BLOCK_S = 20.0


@dataclass(slots=True, kw_only=True)
class Heard:
    """What has been heard so far beside the pops; one entry for each block.

    Attributes:
        mains_hz: the mains frequency that fitted best (Hz).
        noise_db: the median level of the noise in the band, full scale being 0 (dB).
    """

    mains_hz: list[float] = field(default_factory=list)
    noise_db: list[float] = field(default_factory=list)


def pops_heard(sound: Sound, numbers: Numbers, heard: Heard) -> Iterator[Pop]:
    """The pops of a recording as they come, in order; `heard` grows with each block."""
    context_s = numbers.floor_window_s / 2.0 + numbers.dies_within_s
    free_from_s = -np.inf
    for stretch in stretches(sound.blocks(BLOCK_S), sound.rate_hz, context_s, numbers):
        for pop in _pops_of(stretch, numbers, heard):
            # A pop at the border of two blocks is heard in both.
            if stretch.begins_s <= pop.t_s < stretch.ends_s and pop.t_s >= free_from_s:
                free_from_s = pop.t_s + numbers.dead_time_s
                yield pop


def _pops_of(stretch: Stretch, numbers: Numbers, heard: Heard) -> Iterator[Pop]:
    hz = mains_hz(stretch)
    hops_a_period = round(1.0 / (hz * numbers.hop_s))
    hop_s = 1.0 / (hz * hops_a_period)
    times_s, levels = levels_db(stretch, hop_s, max(1, round(numbers.smoothing_s / hop_s)))
    if not len(levels):
        return iter(())
    noise = noise_under(levels, hop_s, hops_a_period, numbers)
    heard.mains_hz.append(hz)
    heard.noise_db.append(float(np.median(noise.mean_db)))
    return pops_in(times_s, levels, noise, hops_a_period, numbers)
