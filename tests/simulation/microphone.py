"""The microphone: what is heard of the pops, and what is heard besides.

Pops are missed at random, more so as flakes muffle the bag or as the gain fades; clicks of other things come at a low
rate, in bursts before the popping, when the magnetron is switched, steadily from some moment on, in bursts at the end, or as
an echo of a loud pop. The counter is blind for a dead time after each sound:
from those it counts (non-paralysable), or from every sound, counted or not (paralysable).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.simulation.kernels import FloatArray

GAIN_OVER_S = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Microphone:
    """How one microphone hears. `dies_at_share` over one means that it lives; 0 that it never did."""

    missed_share: float
    muffled_share: float
    fades_over_s: float
    clutter_per_s: float
    stray_bursts: float
    echo_share: float
    dead_time_s: float
    paralysable: float
    dies_at_share: float
    timing: float
    rattle_per_s: float
    rattle_at_share: float
    rattle_jitter: float
    switch_click_share: float
    late_bursts: float
    gain_cut_per_s: float
    deaf_at_share: float
    deaf_s: float
    stamp_s: float


def heard_s(
    microphone: Microphone,
    popped_s: FloatArray,
    until_s: float,
    rng: np.random.Generator,
    switched_s: Sequence[float] = (),
) -> FloatArray:
    """Times of the pops that the counter reports until `until_s`, sorted, as it writes them."""
    pops = np.sort(popped_s[np.isfinite(popped_s)])
    (further,) = rng.spawn(1)
    sounds = _while_it_hears(microphone, pops, _caught(microphone, pops, rng), further)
    others = np.concatenate(
        (_clutter(microphone, until_s, rng), _machine_noise(microphone, pops, until_s, switched_s, further))
    )
    alive_s = _alive_until_s(microphone, pops)
    merged = np.sort(np.concatenate((sounds[sounds < alive_s], others[others < max(alive_s, _hum_s(microphone))])))
    counted = counted_s(merged, microphone.dead_time_s, paralysable=microphone.paralysable > 0.6)
    return _as_written(microphone, counted[counted < until_s], rng)


def _alive_until_s(microphone: Microphone, pops: FloatArray) -> float:
    if microphone.dies_at_share >= 1.0:
        return float("inf")
    if microphone.dies_at_share <= 0.0:
        return 0.0
    return float(np.quantile(pops, microphone.dies_at_share))


def _hum_s(microphone: Microphone) -> float:
    """How long other sounds still count: some deaf microphones go on clicking by themselves."""
    return float("inf") if microphone.dies_at_share >= 1.0 or microphone.timing > 0.7 else 0.0


def _caught(microphone: Microphone, pops: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Pops loud enough to be heard, and their echoes."""
    muffled = microphone.muffled_share * np.arange(len(pops)) / max(len(pops), 1)
    hears = (1.0 - microphone.missed_share) * (1.0 - muffled)
    if microphone.fades_over_s > 0.0:
        hears = hears * np.exp(-np.maximum(0.0, pops - pops[0]) / microphone.fades_over_s)
    caught = pops[rng.random(len(pops)) < hears]
    echoed = caught[rng.random(len(caught)) < microphone.echo_share]
    return np.concatenate((caught, echoed + rng.uniform(0.06, 0.16, len(echoed))))


def _clutter(microphone: Microphone, until_s: float, rng: np.random.Generator) -> FloatArray:
    """Clicks of other things: a steady low rate, and bursts within the first minute."""
    steady = rng.uniform(0.0, until_s, rng.poisson(microphone.clutter_per_s * until_s))
    bursts = [
        rng.uniform(3.0, 60.0) + np.cumsum(rng.exponential(0.5, rng.integers(2, 8)))
        for _ in range(round(microphone.stray_bursts))
    ]
    return np.concatenate((steady, *bursts))


def counted_s(sounds_s: FloatArray, dead_time_s: float, *, paralysable: bool) -> FloatArray:
    """The sounds that a counter with this dead time counts, out of sorted times."""
    counted: list[float] = []
    blind_until_s = -1.0
    for at_s in sounds_s.tolist():
        if at_s >= blind_until_s:
            counted.append(at_s)
            blind_until_s = at_s + dead_time_s
        elif paralysable:
            blind_until_s = at_s + dead_time_s
    return np.array(counted)


def _as_written(microphone: Microphone, counted: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Times as the log has them: to the millisecond, to 10 or 50 ms, or with an unsteady clock."""
    if microphone.timing > 0.9:
        counted = np.round(counted / 0.05) * 0.05
    elif microphone.timing > 0.8:
        counted = counted + rng.normal(0.0, 0.02, len(counted))
    elif microphone.timing > 0.7:
        counted = np.round(counted, 2)
    if microphone.stamp_s > 0.0:
        counted = np.floor(counted / microphone.stamp_s) * microphone.stamp_s
    return np.unique(np.round(np.maximum(counted, 0.0), 3))


def _while_it_hears(
    microphone: Microphone, pops: FloatArray, caught: FloatArray, rng: np.random.Generator
) -> FloatArray:
    """Those caught while the gain was not cut: by the loudness of the last seconds, or for a while at a share of the pops."""
    if microphone.gain_cut_per_s > 0.0:
        lately_per_s = (np.searchsorted(pops, caught) - np.searchsorted(pops, caught - GAIN_OVER_S)) / GAIN_OVER_S
        caught = caught[rng.random(len(caught)) < 1.0 / (1.0 + (lately_per_s / microphone.gain_cut_per_s) ** 2)]
    if microphone.deaf_s > 0.0:
        from_s = float(np.quantile(pops, microphone.deaf_at_share))
        caught = caught[(caught < from_s) | (caught > from_s + microphone.deaf_s)]
    return caught


def _machine_noise(
    microphone: Microphone, pops: FloatArray, until_s: float, switched_s: Sequence[float], rng: np.random.Generator
) -> FloatArray:
    """Clicks of the relay, of something that rattles in a rhythm from a share of the pops on, and bursts about the end."""
    clicks = np.array([t for t in switched_s if rng.random() < microphone.switch_click_share])
    rattle = np.empty(0)
    if microphone.rattle_per_s > 0.0:
        beat_s = 1.0 / microphone.rattle_per_s
        rattle = np.arange(float(np.quantile(pops, microphone.rattle_at_share)), until_s, beat_s)
        rattle = rattle + rng.uniform(-0.5, 0.5, len(rattle)) * microphone.rattle_jitter * beat_s
    ends_s = float(np.quantile(pops, 0.9))
    bursts = [
        ends_s + rng.uniform(0.0, 30.0) + np.cumsum(rng.exponential(0.3, rng.integers(4, 13)))
        for _ in range(round(microphone.late_bursts))
    ]
    return np.concatenate((clicks, rattle, *bursts))
