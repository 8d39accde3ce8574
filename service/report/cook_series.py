"""What a picture of a cook shows: what was read, what the service foresaw as it went, and the stops."""

from dataclasses import dataclass

import numpy as np

from service.audit.other_stops import EVERY_MS, OtherStop, other_stops
from service.evidence.moisture import MoistureNumbers
from service.evidence.vapour import vapour_g_m3
from service.outcomes.finished import FinishedCook
from service.programs.programme import Programme
from service.readings.cook import Cook
from service.readings.settled import Settled
from service.rules.decide import decide
from service.units import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CookSeries:
    """One cook over time; all times on the cook clock (s).

    Attributes:
        end_s: when it ended.
        pops_s: (n,) when pops were heard.
        vapour_s, vapour_g_m3: (m,) vapour density beside the sensor.
        off_s: (k, 2) from when to when the heating was off.
        asked_s, low_s, foreseen_s, high_s: (q,) the stop that was foreseen at each moment, with its interval; NaN where
            nothing could be said yet.
        stopped_s, stopped_by, good_stop_s: of the outcome.
        others: the stops of other rules, ours among them.
    """

    end_s: float
    pops_s: FloatArray
    vapour_s: FloatArray
    vapour_g_m3: FloatArray
    off_s: FloatArray
    asked_s: FloatArray
    low_s: FloatArray
    foreseen_s: FloatArray
    high_s: FloatArray
    stopped_s: float | None
    stopped_by: str | None
    good_stop_s: float | None
    others: tuple[OtherStop, ...]


def cook_series(finished: FinishedCook, programme: Programme) -> CookSeries:
    """Play a cook again, once a second (about a fifth of a second)."""
    outcome, cook = finished.outcome, finished.cook
    end_ms = max(finished.end_ms(), cook.newest_ms() or 0)
    asked_s, foreseen = _foreseen(finished, programme, end_ms)
    return CookSeries(
        end_s=end_ms / 1000.0,
        pops_s=cook.pops_ms / 1000.0,
        vapour_s=cook.humidity_ms / 1000.0,
        vapour_g_m3=_vapour(cook, programme),
        off_s=_off(cook, end_ms / 1000.0),
        asked_s=asked_s,
        low_s=foreseen[:, 0],
        foreseen_s=foreseen[:, 1],
        high_s=foreseen[:, 2],
        stopped_s=outcome.stopped_s,
        stopped_by=outcome.stopped_by,
        good_stop_s=outcome.good_stop_s,
        others=other_stops(finished, programme) if "acoustic" in programme.led_by else (),
    )


def _foreseen(finished: FinishedCook, programme: Programme, end_ms: int) -> tuple[FloatArray, FloatArray]:
    """The moments (q,) until our own stop, and what was foreseen at each: (q, 3) low, middle, high."""
    settled: Settled | None = None
    moments_s, foreseen = [], []
    for as_of_ms in range(EVERY_MS, end_ms + 1, EVERY_MS):
        decision = decide(
            programme=programme, setup=finished.setup, cook=finished.cook, as_of_ms=as_of_ms, settled=settled
        )
        settled, left = decision.settled, decision.remaining
        moments_s.append(decision.as_of_s)
        ends = (np.nan,) * 3 if left is None else (left.low_s, left.estimate_s, left.high_s)
        foreseen.append([decision.as_of_s + end for end in ends])
        if decision.decision == "stop":
            break
    return np.array(moments_s), np.array(foreseen).reshape(-1, 3)


def _vapour(cook: Cook, programme: Programme) -> FloatArray:
    assumed_air_c = programme.numbers(MoistureNumbers).assumed_air_c
    return vapour_g_m3(cook.humidity_permille, cook.air_decidegrees, assumed_air_c=assumed_air_c).density_g_m3


def _off(cook: Cook, end_s: float) -> FloatArray:
    times_s = np.append(cook.power_ms / 1000.0, end_s)
    off = [(times_s[place], times_s[place + 1]) for place in np.flatnonzero(cook.power_permille == 0)]
    return np.array(off, dtype=np.float64).reshape(-1, 2)
