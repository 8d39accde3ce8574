"""Levels of the band in which pops are, in steps that divide the mains period.

The samples go through a Butterworth band-pass once, in a stream. Power is then summed over steps whose borders may lie
between two samples: the running sum of squares is interpolated there. So any step can be had at any sample rate, and
with a step that divides the mains period all that the mains do falls on the same steps of each period.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from scipy.signal import butter, sosfilt

from service.recording.numbers import Numbers
from service.units import FloatArray

MAINS_HZ = (50.0, 60.0)
_NYQUIST_SHARE = 0.9
_SILENCE = 1e-14


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """A part of a recording, filtered, with some of what lies before and after it.

    Attributes:
        samples: the filtered samples; the first of them is at `first_s`.
        rate_hz: samples a second.
        first_s, begins_s, ends_s: the part itself is from `begins_s` to `ends_s` (s in the recording).
    """

    samples: FloatArray
    rate_hz: int
    first_s: float
    begins_s: float
    ends_s: float


def stretches(blocks: Iterable[FloatArray], rate_hz: int, context_s: float, numbers: Numbers) -> Iterator[Stretch]:
    """The recording in parts, a block each, with up to `context_s` on either side."""
    context = round(context_s * rate_hz)
    held, held_from, begins = np.empty(0), 0, 0
    for filtered in _filtered(blocks, rate_hz, numbers):
        held = np.concatenate((held, filtered))
        ends = held_from + len(held) - context
        if ends > begins:
            yield _stretch(held, held_from, begins, ends, rate_hz)
            begins = ends
            keep = max(begins - context, held_from)
            held, held_from = held[keep - held_from :], keep
    yield _stretch(held, held_from, begins, held_from + len(held), rate_hz)


def levels_db(stretch: Stretch, hop_s: float, smoothing_hops: int) -> tuple[FloatArray, FloatArray]:
    """Times at which levels begin (s in the recording) and the mean power from then on over the smoothing (dB).

    Steps lie at whole multiples of `hop_s` in the recording. Full scale is 0 dB.
    """
    first = int(np.ceil(stretch.first_s / hop_s))
    last = int((stretch.first_s + len(stretch.samples) / stretch.rate_hz) / hop_s)
    borders_s: FloatArray = np.arange(first, max(last, first) + 1, dtype=np.float64) * hop_s
    energy = np.concatenate(([0.0], np.cumsum(stretch.samples**2)))
    at = (borders_s - stretch.first_s) * stretch.rate_hz
    reached = np.interp(at, np.arange(len(energy)), energy)
    power: FloatArray = (reached[smoothing_hops:] - reached[:-smoothing_hops]) / (
        smoothing_hops * hop_s * stretch.rate_hz
    )
    return borders_s[: len(power)], 10.0 * np.log10(np.maximum(power, _SILENCE))


def mains_hz(stretch: Stretch) -> float:
    """The mains frequency that the level of the band follows more closely, out of MAINS_HZ (Hz)."""
    hop_s = 0.001
    _, levels = levels_db(stretch, hop_s, 1)
    if len(levels) < 2:
        return MAINS_HZ[0]
    swing = np.clip(levels - np.median(levels), -6.0, 6.0) * np.hanning(len(levels))
    strength = np.abs(np.fft.rfft(swing)) ** 2
    per_hz = len(levels) * hop_s

    def of(hz: float) -> float:
        # A mains frequency wanders by a part in five hundred.
        harmonics = [(hz * order, 0.3 + hz * order / 500.0) for order in range(1, 7)]
        return float(
            sum(
                strength[int((at - by) * per_hz) : int((at + by) * per_hz) + 1].max(initial=0.0) for at, by in harmonics
            )
        )

    return max(MAINS_HZ, key=of)


def _filtered(blocks: Iterable[FloatArray], rate_hz: int, numbers: Numbers) -> Iterator[FloatArray]:
    high_hz = min(numbers.band_high_hz, _NYQUIST_SHARE * rate_hz / 2.0)
    sections = butter(round(numbers.filter_order), (numbers.band_low_hz, high_hz), "bandpass", fs=rate_hz, output="sos")
    state = np.zeros((len(sections), 2))
    for block in blocks:
        filtered, state = sosfilt(sections, block, zi=state)
        yield filtered


def _stretch(held: FloatArray, held_from: int, begins: int, ends: int, rate_hz: int) -> Stretch:
    return Stretch(
        samples=held,
        rate_hz=rate_hz,
        first_s=held_from / rate_hz,
        begins_s=begins / rate_hz,
        ends_s=ends / rate_hz,
    )
