"""What goes wrong between a humidity sensor that works and the readings that arrive: done to the finished readings.

Readings come seldom, in whole per cent, only up to some humidity, or only from some moment on; some are wild, or missing around
the steam; the air temperature is wrong. All of it is invented.
"""

from dataclasses import dataclass

import numpy as np

from tests.simulation.kernels import FloatArray
from tests.simulation.sensors import HumidityReadings

JUMPS_SHARE = 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorFaults:
    """The faults of one sensor; zeros mean that nothing is the matter. Picks are uniform draws between 0 and 1.

    At most one reading comes in `every_s`, none before `joins_at_s`, and none for `gap_s` from `gap_from_s` after the steam
    began. The scale ends at `tops_out_pct`. Of all readings `wild_share` are at an end of it or repeat the one before. The air is
    told `air_wrong_k` too warm, in the way of `air_how`.
    """

    every_s: float
    whole_pct: float
    joins_at_s: float
    gap_from_s: float
    gap_s: float
    tops_out_pct: float
    wild_share: float
    air_wrong_k: float
    air_how: float

    def befall(self, readings: HumidityReadings, began_s: float, rng: np.random.Generator) -> HumidityReadings:
        """The readings that arrive, given when steam began."""
        kept = self._kept(readings, began_s)
        if not kept:
            return kept
        times, humidity, air_c = zip(*kept, strict=True)
        rh_pct = np.array(humidity)
        if self.tops_out_pct > 0.0:
            rh_pct = np.minimum(rh_pct, round(self.tops_out_pct, 1))
        if self.wild_share > 0.0:
            rh_pct = self._wild(rh_pct, rng)
        if self.whole_pct > 0.0:
            rh_pct = np.round(rh_pct)
        told_c = list(air_c) if self.air_wrong_k == 0.0 else self._wrong(air_c, rng)
        return list(zip(times, rh_pct.tolist(), told_c, strict=True))

    def _kept(self, readings: HumidityReadings, began_s: float) -> HumidityReadings:
        missing_from_s = began_s + self.gap_from_s
        kept: HumidityReadings = []
        for t, rh_pct, air_c in readings:
            is_missing = t < self.joins_at_s or missing_from_s <= t < missing_from_s + self.gap_s
            if not is_missing and (not kept or t - kept[-1][0] >= self.every_s):
                kept.append((t, rh_pct, air_c))
        return kept

    def _wild(self, rh_pct: FloatArray, rng: np.random.Generator) -> FloatArray:
        is_wild, pick = rng.random(rh_pct.size) < self.wild_share, rng.random(rh_pct.size)
        before = np.concatenate((rh_pct[:1], rh_pct[:-1]))
        return np.where(is_wild, np.where(pick < 0.4, 0.0, np.where(pick < 0.8, 100.0, before)), rh_pct)

    def _wrong(self, air_c: tuple[float | None, ...], rng: np.random.Generator) -> list[float | None]:
        """Wrong all the time, in jumps, or not following at all."""
        if self.air_how >= 0.7:
            return [air_c[0]] * len(air_c)
        off_k = np.full(len(air_c), self.air_wrong_k)
        if self.air_how >= 0.35:
            jumps = rng.random(len(air_c)) < JUMPS_SHARE
            off_k = np.cumsum(np.where(jumps, rng.normal(0.0, abs(self.air_wrong_k), len(air_c)), 0.0))
        return [None if c is None else round(max(c + k, 0.0), 2) for c, k in zip(air_c, off_k.tolist(), strict=True)]
