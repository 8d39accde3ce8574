"""Columns of readings as few bytes, and back.

Gaps between pops are random: nothing but their size can be saved. Each gap, in the unit that all of them share, is
split as in Golomb-Rice coding (Rice, JPL 79-22, 1979): its low bits, nearly uniform, are stored as they are; the
quotient, small and often the same, is left to a general compressor, whose codes fit its true distribution.

Times of regular readings are gaps in their shared unit, mostly ones. Values that drift are differences from the one
before, zigzagged so that small ones of either sign are small numbers. Numbers are split into byte planes, the lowest
first, so that the zeros of the high planes lie together and compress to nothing.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.readings.cook import LATEST_MS, NOTHING, read_only
from service.units import IntArray

TIME_PLANES = 3
"""Bytes that hold any gap between times up to LATEST_MS."""
VALUE_PLANES = 2
"""Bytes that hold any zigzagged 16-bit difference."""

_WORDS: dict[int, np.dtype[Any]] = {TIME_PLANES: np.dtype("<i4"), VALUE_PLANES: np.dtype("<u2")}
"""What holds a number of so many bytes."""
_MOST_LOW_BITS = 23
_WEIGHTS = 1 << np.arange(_MOST_LOW_BITS - 1, -1, -1, dtype=np.int32)
_WORD_BITS = 32
_LARGEST_PERMILLE = 1000


class PackingError(ValueError):
    """These bytes are no packed cook, or this content cannot be packed."""


def differences(values: IntArray) -> IntArray:
    """The first value, then each less the one before it."""
    changes = values.copy()
    np.subtract(values[1:], values[:-1], out=changes[1:])
    return changes


def shared_unit_gaps(times_ms: IntArray) -> tuple[IntArray, int]:
    """The gaps between rising times in their largest common unit, and that unit in ms (1 when there is none)."""
    gaps_ms = differences(times_ms)
    unit_ms = int(np.gcd.reduce(gaps_ms)) or 1
    return (gaps_ms // np.int32(unit_ms) if unit_ms > 1 else gaps_ms), unit_ms


def times_of(gaps: IntArray, unit_ms: int) -> IntArray:
    """The times in ms of gaps in a unit. Raises PackingError if they do not rise, or not within 0 to LATEST_MS."""
    if not 0 < unit_ms <= LATEST_MS:
        raise PackingError(f"a unit of time is {unit_ms} ms")
    if not gaps.size:
        return NOTHING
    # No gap reaches 2^31, so a sum that overflows turns negative and does not rise.
    units = gaps.cumsum(dtype=np.int32)
    if np.count_nonzero(units[1:] > units[:-1]) < units.size - 1:
        raise PackingError("the times of one kind of reading do not rise")
    if int(units[-1]) * unit_ms > LATEST_MS:
        raise PackingError(f"a reading is later than {LATEST_MS} ms")
    return read_only(units * unit_ms if unit_ms > 1 else units)


def low_bits_of(gaps: IntArray) -> int:
    """How many low bits of each gap to store as they are.

    A quarter to a half of the median gap leaves quotients that are flat enough within a step to lose nothing, and few
    enough for short codes.
    """
    if not gaps.size:
        return 0
    middle = gaps.size // 2
    return max(int(np.partition(gaps, middle)[middle]).bit_length() - 2, 0)


def packed_low_bits(gaps: IntArray, low_bits: int) -> bytes:
    """The low bits of every gap, the most significant first, padded to a whole byte."""
    bits = np.unpackbits(gaps.astype(">u4").view(np.uint8)).reshape(-1, _WORD_BITS)
    return np.packbits(bits[:, _WORD_BITS - low_bits :]).tobytes()


def whole_gaps(quotients: IntArray, low_bytes: bytes, low_bits: int) -> IntArray:
    """The gaps of their quotients and low bits. Raises PackingError where these do not fit together."""
    count = quotients.size * low_bits
    if low_bits > _MOST_LOW_BITS or len(low_bytes) != (count + 7) // 8:
        raise PackingError(f"{len(low_bytes)} bytes of low bits do not fit {quotients.size} gaps of {low_bits} bits")
    if not quotients.size:
        return quotients
    if np.count_nonzero(quotients > LATEST_MS >> low_bits):
        raise PackingError(f"a gap between pops is longer than {LATEST_MS} ms")
    bits = np.unpackbits(np.frombuffer(low_bytes, dtype=np.uint8), count=count).reshape(quotients.size, low_bits)
    return (quotients << low_bits) + bits @ _WEIGHTS[_MOST_LOW_BITS - low_bits :]


def zigzag(rows: NDArray[np.int16]) -> NDArray[np.uint16]:
    """The differences along each row, modulo 2^16, as numbers that are small where the difference is."""
    changes = rows.copy()
    np.subtract(rows[:, 1:], rows[:, :-1], out=changes[:, 1:])
    return ((changes << 1) ^ (changes >> 15)).view(np.uint16)


def unzigzag(folded: NDArray[np.uint16]) -> NDArray[np.uint16]:
    """The values in each row, modulo 2^16, of which ``zigzag`` gave the differences."""
    changes = (folded >> 1) ^ -(folded & 1)
    return changes.cumsum(axis=1, dtype=np.uint16)


def permille(values: NDArray[np.integer]) -> IntArray:
    """The values, none of them below 0, as a column. Raises PackingError if one is over 1000."""
    if np.count_nonzero(values > _LARGEST_PERMILLE):
        raise PackingError(f"a humidity or a level is over {_LARGEST_PERMILLE} permille")
    return read_only(values)


def to_planes(columns: tuple[NDArray[np.integer], ...], planes: int) -> bytes:
    """The columns, one after the other, as the lowest bytes of all numbers, then the next, ``planes`` times."""
    word = _WORDS[planes]
    numbers = np.concatenate(columns, dtype=word, casting="unsafe").tobytes()
    return b"".join([numbers[plane :: word.itemsize] for plane in range(planes)])


def of_planes(data: bytes, planes: int, lengths: tuple[int, ...]) -> list[NDArray[Any]]:
    """The columns of ``lengths`` numbers from as many bytes as ``planes`` times their sum."""
    word, count = _WORDS[planes], sum(lengths)
    numbers = bytearray(word.itemsize * count)
    for plane in range(planes):
        numbers[plane :: word.itemsize] = data[plane * count : (plane + 1) * count]
    together, columns, at = np.frombuffer(numbers, dtype=word), [], 0
    for length in lengths:
        columns.append(together[at : at + length])
        at += length
    return columns
