"""A cook: the grow-only set of what was read from the sensors.

Readings may come late, twice, out of order and in any batches. A cook is therefore a set, and two cooks merge by
union, which is commutative, associative and idempotent: whoever holds the same readings holds the same cook.
Everything is rounded to a fixed resolution first (1 ms, 0.1 % relative humidity, 0.1 degC, one thousandth of full
power), so that equality is exact and a cook that was packed and unpacked is the same cook.

Two readings of one kind at the same millisecond cannot both hold. Which one stays must not depend on the order in
which they came, so it is the larger by a fixed order:

* humidity: one with an air temperature before one without, then the more humid, then the warmer;
* power: the higher level, because heat taken for granted stops a cook sooner, never later.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from service.units import FloatArray, IntArray

Rows: TypeAlias = Sequence[tuple[float | None, ...]]

NO_AIR = -32768
"""Stands in ``air_decidegrees`` where no air temperature was given."""
LATEST_MS = 7_200_000
"""No reading is later on the cook clock than this."""
HOTTEST_DECIDEGREES = 32767
"""No air temperature, above or below zero, is further from it than this: it must fit 16 bits beside NO_AIR."""

# A humidity reading as one sortable integer: time | air known | humidity | air, the last three in 27 bits.
_HUMIDITY_BITS = 27
_AIR_BITS = 16
_KNOWN = 1 << 26
# A power reading likewise: time | level.
_POWER_BITS = 10

_Whole: TypeAlias = NDArray[np.int32] | NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cook:
    """All readings of one cook, in columns, each kind sorted by time with no time twice.

    Every array is int32, one-dimensional and read-only. ``humidity_ms``, ``humidity_permille`` (0.1 % relative
    humidity) and ``air_decidegrees`` (0.1 degC or NO_AIR) belong together, as do ``power_ms`` and
    ``power_permille`` (thousandths of full power). Times are milliseconds on the cook clock.
    """

    pops_ms: IntArray
    humidity_ms: IntArray
    humidity_permille: IntArray
    air_decidegrees: IntArray
    power_ms: IntArray
    power_permille: IntArray
    restarts_ms: IntArray

    @staticmethod
    def of(
        *,
        pops_s: Sequence[float] | FloatArray = (),
        humidity: Rows | FloatArray = (),
        power: Rows | FloatArray = (),
        restarts_s: Sequence[float] | FloatArray = (),
    ) -> Cook:
        """Build a cook from readings in any order, in the units of the sensors.

        ``pops_s`` and ``restarts_s`` are times in seconds; ``humidity`` rows of (time in s, relative humidity in %,
        air temperature in degC or None or NaN); ``power`` rows of (time in s, share of full power 0 to 1).
        Raises ValueError for a time outside 0 to 7200 s, a humidity outside 0 to 100 %, a level outside 0 to 1, an
        air temperature beyond 3276.7 degC, a NaN or an infinity.
        """
        humidity_ms, humidity_permille, air_decidegrees = _humidity_columns(humidity)
        power_ms, power_permille = _power_columns(power)
        return Cook(
            pops_ms=_distinct_times_ms(pops_s, "a pop"),
            humidity_ms=humidity_ms,
            humidity_permille=humidity_permille,
            air_decidegrees=air_decidegrees,
            power_ms=power_ms,
            power_permille=power_permille,
            restarts_ms=_distinct_times_ms(restarts_s, "a restart"),
        )

    def merged(self, other: Cook) -> Cook:
        """The union of both sets of readings: commutative, associative, idempotent."""
        humidity_ms, humidity_permille, air_decidegrees = _union_of_humidity(self, other)
        power_ms, power_permille = _union_of_power(self, other)
        return Cook(
            pops_ms=_union_of_times(self.pops_ms, other.pops_ms),
            humidity_ms=humidity_ms,
            humidity_permille=humidity_permille,
            air_decidegrees=air_decidegrees,
            power_ms=power_ms,
            power_permille=power_permille,
            restarts_ms=_union_of_times(self.restarts_ms, other.restarts_ms),
        )

    def until(self, as_of_ms: int) -> Cook:
        """The readings at or before ``as_of_ms``."""
        newest_ms = self.newest_ms()
        if newest_ms is None or newest_ms <= as_of_ms:
            return self
        pops = self.pops_ms.searchsorted(as_of_ms, "right")
        humidity = self.humidity_ms.searchsorted(as_of_ms, "right")
        power = self.power_ms.searchsorted(as_of_ms, "right")
        restarts = self.restarts_ms.searchsorted(as_of_ms, "right")
        return Cook(
            pops_ms=self.pops_ms[:pops],
            humidity_ms=self.humidity_ms[:humidity],
            humidity_permille=self.humidity_permille[:humidity],
            air_decidegrees=self.air_decidegrees[:humidity],
            power_ms=self.power_ms[:power],
            power_permille=self.power_permille[:power],
            restarts_ms=self.restarts_ms[:restarts],
        )

    def newest_ms(self) -> int | None:
        """The time of the newest reading of any kind, or None when there is none."""
        columns = (self.pops_ms, self.humidity_ms, self.power_ms, self.restarts_ms)
        newest_ms = [int(times_ms[-1]) for times_ms in columns if times_ms.size]
        return max(newest_ms) if newest_ms else None

    def same_as(self, other: Cook) -> bool:
        """Whether both hold exactly the same readings (dataclass equality fails on arrays)."""
        return all(np.array_equal(mine, theirs) for mine, theirs in zip(_columns(self), _columns(other), strict=True))


def _columns(cook: Cook) -> tuple[IntArray, ...]:
    return (
        cook.pops_ms,
        cook.humidity_ms,
        cook.humidity_permille,
        cook.air_decidegrees,
        cook.power_ms,
        cook.power_permille,
        cook.restarts_ms,
    )


def read_only(values: NDArray[np.integer]) -> IntArray:
    """The values as int32 that nobody can write to; the caller gives up an array that was int32 already."""
    frozen = values.astype(np.int32, copy=False)
    frozen.setflags(write=False)
    return frozen


NOTHING = read_only(np.empty(0, dtype=np.int32))
"""The column of which there are no readings."""


def _whole(values: Iterable[float], scale: float, largest: int, what: str) -> list[int]:
    try:
        scaled = [round(value * scale) for value in values]
    except (ValueError, OverflowError):
        # No whole number is near a NaN or an infinity.
        scaled = [-1]
    if scaled and not (min(scaled) >= 0 and max(scaled) <= largest):
        raise ValueError(f"{what} is outside 0 to {largest / scale:g} or not a number")
    return scaled


def _columns_of(readings: Rows | FloatArray, width: int, what: str) -> list[tuple[Any, ...]]:
    rows = readings.tolist() if isinstance(readings, np.ndarray) else readings
    if not {*map(type, rows)} <= {tuple, list} or {*map(len, rows)} != {width}:
        raise ValueError(f"{what} readings must be rows of {width} values")
    return list(zip(*rows, strict=True))


def _distinct_times_ms(times_s: Sequence[float] | FloatArray, what: str) -> IntArray:
    listed = times_s.tolist() if isinstance(times_s, np.ndarray) else times_s
    if not listed:
        return NOTHING
    times_ms = _whole(listed, 1000.0, LATEST_MS, f"the time of {what}")
    return read_only(np.array(sorted({*times_ms}), dtype=np.int32))


def _humidity_columns(readings: Rows | FloatArray) -> tuple[IntArray, IntArray, IntArray]:
    if not len(readings):
        return NOTHING, NOTHING, NOTHING
    t_s, rh_pct, air_c = _columns_of(readings, 3, "humidity")
    humidity_ms = _whole(t_s, 1000.0, LATEST_MS, "the time of a humidity reading")
    permille = _whole(rh_pct, 10.0, 1000, "a relative humidity in %")
    air_decidegrees = _air_decidegrees(air_c)
    columns = np.array((humidity_ms, permille, air_decidegrees), dtype=np.int32)
    if humidity_ms == sorted({*humidity_ms}):
        columns.setflags(write=False)
        return columns[0], columns[1], columns[2]
    return _humidity_of_keys(_humidity_keys(columns[0].astype(np.int64), columns[1], columns[2]))


def _air_decidegrees(air_c: Iterable[float | None]) -> list[int]:
    """Tenths of a degree, NO_AIR for None or NaN."""
    known = [math.nan if air is None else air * 10.0 for air in air_c]
    if any(abs(air) >= HOTTEST_DECIDEGREES + 0.5 for air in known):
        raise ValueError(f"an air temperature is more than {HOTTEST_DECIDEGREES / 10:g} degC from zero")
    return [NO_AIR if math.isnan(air) else round(air) for air in known]


def _power_columns(readings: Rows | FloatArray) -> tuple[IntArray, IntArray]:
    if not len(readings):
        return NOTHING, NOTHING
    t_s, levels = _columns_of(readings, 2, "power")
    power_ms = _whole(t_s, 1000.0, LATEST_MS, "the time of a power reading")
    permille = _whole(levels, 1000.0, 1000, "a power level")
    return _power_of_keys((np.array(power_ms, dtype=np.int64) << _POWER_BITS) + permille)


def _last_of_each(sorted_keys: _Whole) -> NDArray[np.bool_]:
    last = np.ones(sorted_keys.size, dtype=np.bool_)
    np.not_equal(sorted_keys[1:], sorted_keys[:-1], out=last[:-1])
    return last


def _union_of_times(mine: IntArray, theirs: IntArray) -> IntArray:
    if not theirs.size:
        return mine
    if not mine.size:
        return theirs
    both = np.concatenate((mine, theirs))
    if mine[-1] < theirs[0]:
        return read_only(both)
    both.sort()
    return read_only(both[_last_of_each(both)])


def _humidity_keys(humidity_ms: NDArray[np.int64], permille: _Whole, air_decidegrees: _Whole) -> NDArray[np.int64]:
    values: NDArray[np.int64] = (permille << _AIR_BITS) + (air_decidegrees - NO_AIR)
    values = values + (air_decidegrees != NO_AIR) * _KNOWN
    return (humidity_ms << _HUMIDITY_BITS) + values


def _humidity_of_keys(keys: NDArray[np.int64]) -> tuple[IntArray, IntArray, IntArray]:
    keys.sort()
    keys = keys[_last_of_each(keys >> _HUMIDITY_BITS)]
    permille = (keys & (_KNOWN - 1)) >> _AIR_BITS
    air_decidegrees = (keys & ((1 << _AIR_BITS) - 1)) + NO_AIR
    return read_only(keys >> _HUMIDITY_BITS), read_only(permille), read_only(air_decidegrees)


def _union_of_humidity(mine: Cook, theirs: Cook) -> tuple[IntArray, IntArray, IntArray]:
    if not theirs.humidity_ms.size:
        return mine.humidity_ms, mine.humidity_permille, mine.air_decidegrees
    if not mine.humidity_ms.size:
        return theirs.humidity_ms, theirs.humidity_permille, theirs.air_decidegrees
    humidity_ms = np.concatenate((mine.humidity_ms, theirs.humidity_ms))
    permille = np.concatenate((mine.humidity_permille, theirs.humidity_permille))
    air_decidegrees = np.concatenate((mine.air_decidegrees, theirs.air_decidegrees))
    if mine.humidity_ms[-1] < theirs.humidity_ms[0]:
        return read_only(humidity_ms), read_only(permille), read_only(air_decidegrees)
    return _humidity_of_keys(_humidity_keys(humidity_ms.astype(np.int64), permille, air_decidegrees))


def _power_of_keys(keys: NDArray[np.int64]) -> tuple[IntArray, IntArray]:
    keys.sort()
    keys = keys[_last_of_each(keys >> _POWER_BITS)]
    return read_only(keys >> _POWER_BITS), read_only(keys & ((1 << _POWER_BITS) - 1))


def _union_of_power(mine: Cook, theirs: Cook) -> tuple[IntArray, IntArray]:
    if not theirs.power_ms.size:
        return mine.power_ms, mine.power_permille
    if not mine.power_ms.size:
        return theirs.power_ms, theirs.power_permille
    power_ms = np.concatenate((mine.power_ms, theirs.power_ms))
    permille = np.concatenate((mine.power_permille, theirs.power_permille))
    if mine.power_ms[-1] < theirs.power_ms[0]:
        return read_only(power_ms), read_only(permille)
    return _power_of_keys((power_ms.astype(np.int64) << _POWER_BITS) + permille)


EMPTY = Cook.of()
"""The cook of which nothing was read yet."""
