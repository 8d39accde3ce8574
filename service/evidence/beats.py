"""Sounds that keep a beat: beside the corn something else clicks on, a fan that beeps or a plate that rattles.

Model. Kernels pop independently of each other, so their times have no phase: of n of them the sum of exp(2 pi i f t) is a random
walk, and its square over n has mean one at any frequency f (Rayleigh's test). The clicks of a beat add up instead. Where the
latest sounds pass that test by far the beat is followed back from the last of them, as long as it is heard, and the sound
nearest to each beat is taken for the click. What is left are pops.

A beat is one only after LEAST_BEATS, and beside as many other sounds: a whole log in even steps was written by somebody.

Range. Beats of 0.25 to 2 s that go on, or have ended within the last LATELY_MS. Of times that are told in steps of a tenth of a
second or longer nothing is said, since those keep a beat of their own.

Reference. K. V. Mardia and P. E. Jupp (2000), Directional Statistics, chapter 6 (Rayleigh's test); to follow the beat is our own.
"""

from bisect import bisect_left

import numpy as np

from service.readings.cook import read_only
from service.units import FloatArray, IntArray

LEAST_BEATS = 30
LATELY_MS = 32_000
_MOST_LATELY = 80
_SLOWEST_HZ, _QUICKEST_HZ = 0.5, 4.0
# The chance that sounds without a beat pass at some frequency is some hundred times exp(-14).
_LEAST_POWER = 14.0
# Of a beat and its overtones the lowest is the beat.
_LOWEST_SHARE = 0.6
# Where LEAST_BEATS sounds come within less the popping is so dense that a beat beside it matters little yet.
_DENSE_MS = 5000
_STAMP_MS = 100
# A bin is a power of two of milliseconds, so that a shift puts a time in its bin.
_BIN_SHIFT, _BINS = 6, 1024
_BIN_S = (1 << _BIN_SHIFT) / 1000.0
_FREQUENCIES_HZ = np.arange(int(_SLOWEST_HZ * _BIN_S * _BINS), int(_QUICKEST_HZ * _BIN_S * _BINS)) / (_BIN_S * _BINS)
_FIRST = int(_SLOWEST_HZ * _BIN_S * _BINS)
# How far from the beat a click may be, in beats, and how far a click moves what is expected of the next.
_NEAR, _PULL = 0.2, 0.3
_MOST_MISSED = 4


def without_beats(pops_ms: IntArray, as_of_ms: int) -> IntArray:
    """The sounds (sorted, ms, none later than `as_of_ms`) without the clicks of a beat: all of them where there is none."""
    if pops_ms.size < 2 * LEAST_BEATS:
        return pops_ms
    first = max(int(pops_ms.searchsorted(as_of_ms - LATELY_MS)), pops_ms.size - _MOST_LATELY)
    if pops_ms.size - first < LEAST_BEATS or pops_ms[-1] - pops_ms[-LEAST_BEATS] < _DENSE_MS:
        return pops_ms
    ago_ms = pops_ms[-1] - pops_ms[first:]
    power = rayleigh_power(ago_ms)
    place = int(power.argmax())
    if power.item(place) < _LEAST_POWER or not (pops_ms % _STAMP_MS).any():
        return pops_ms
    lowest = int((power >= _LOWEST_SHARE * power.item(place)).argmax())
    clicks = _followed(pops_ms, *_beat_ms(ago_ms / -1000.0, float(_FREQUENCIES_HZ[lowest])))
    if len(clicks) < LEAST_BEATS or pops_ms.size - len(clicks) < LEAST_BEATS:
        return pops_ms
    return read_only(np.delete(pops_ms, clicks))


def rayleigh_power(ago_ms: IntArray) -> FloatArray:
    """Rayleigh's statistic of times (ms ago, none below 0) at each of the frequencies."""
    spectrum = np.fft.rfft(np.bincount(ago_ms >> _BIN_SHIFT), _BINS)[_FIRST : _FIRST + _FREQUENCIES_HZ.size]
    power: FloatArray = (spectrum * spectrum.conj()).real / ago_ms.size
    return power


def _beat_ms(since_s: FloatArray, about_hz: float) -> tuple[float, float]:
    """The beat about this frequency, and where the last click should lie from the last sound (ms)."""
    step_hz = 0.5 / (_BIN_S * _BINS)
    frequencies_hz = about_hz + np.linspace(-2.0, 2.0, 17) * step_hz
    sums = np.exp(2j * np.pi * frequencies_hz[:, None] * since_s).sum(axis=1)
    best = int(np.abs(sums).argmax())
    beat_ms = 1000.0 / float(frequencies_hz[best])
    return beat_ms, float(np.angle(sums[best])) / (2.0 * np.pi) * beat_ms


def _followed(pops_ms: IntArray, beat_ms: float, last_ms: float) -> list[int]:
    """Indices of the clicks, the last first."""
    times_ms = pops_ms.tolist()
    clicks: list[int] = []
    at_ms, missed, later = times_ms[-1] + last_ms, 0, len(times_ms)
    while missed < _MOST_MISSED and later > 0:
        after = bisect_left(times_ms, at_ms, 0, later)
        nearest = min(range(max(after - 1, 0), min(after + 1, later)), key=lambda index: abs(times_ms[index] - at_ms))
        off_ms = times_ms[nearest] - at_ms
        if abs(off_ms) <= _NEAR * beat_ms:
            clicks.append(nearest)
            later, missed = nearest, 0
            at_ms += _PULL * off_ms
        else:
            missed += 1
        at_ms -= beat_ms
    return clicks
