"""A WAV file, block by block, so that its length does not matter."""

import struct
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.io import wavfile

from service.units import FloatArray

SLOWEST_HZ = 8000


class SoundError(ValueError):
    """A file that is no recording that can be listened to; says why."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sound:
    """A recording.

    Attributes:
        rate_hz: samples a second.
        samples: shape (samples,) or (samples, channels) in the numbers of the file, mostly still on the disk.
    """

    rate_hz: int
    samples: NDArray[Any]

    @property
    def duration_s(self) -> float:
        """How long it is (s)."""
        return len(self.samples) / self.rate_hz

    def blocks(self, seconds: float) -> Iterator[FloatArray]:
        """The samples as one channel, the mean of all, full scale being 1; the last block may be shorter."""
        step = max(1, round(seconds * self.rate_hz))
        for start in range(0, len(self.samples), step):
            yield _one_channel(self.samples[start : start + step])


def opened(path: Path) -> Sound:
    """The recording in a WAV file: whole numbers of 8 to 32 bits, or floating point, any number of channels.

    Raises SoundError for anything else, and OSError for a file that cannot be read. A file of 24 bits is held in
    memory; others are read as they are needed.
    """
    try:
        with warnings.catch_warnings():
            # Chunks with titles and dates are none of our business; a file cut off at its end is heard as far as it goes.
            warnings.simplefilter("ignore", wavfile.WavFileWarning)
            rate_hz, samples = _read(path)
    except (ValueError, EOFError, struct.error) as error:
        raise SoundError(f"not a WAV file that can be read: {error}") from error
    if rate_hz < SLOWEST_HZ:
        raise SoundError(f"expected {SLOWEST_HZ} samples a second or more; there are {rate_hz}")
    if not len(samples):
        raise SoundError("there is no sound in it")
    return Sound(rate_hz=int(rate_hz), samples=samples)


def _read(path: Path) -> tuple[int, NDArray[Any]]:
    try:
        return wavfile.read(path, mmap=True)
    except ValueError:
        # Samples of three bytes cannot be looked at in place.
        return wavfile.read(path)


def _one_channel(block: NDArray[Any]) -> FloatArray:
    if block.dtype.kind == "f":
        scaled = np.nan_to_num(block.astype(np.float64), posinf=0.0, neginf=0.0)
    elif block.dtype.kind == "u":
        scaled = (block.astype(np.float64) - 128.0) / 128.0
    else:
        scaled = block.astype(np.float64) / -float(np.iinfo(block.dtype).min)
    return scaled if scaled.ndim == 1 else scaled.mean(axis=1)
