"""What the humidity sensor says: whether it is to be believed, how much vapour there is, and when steam began.

Model. Vapour density from relative humidity and air temperature (service.evidence.vapour), the onset of steam from its
rise (service.evidence.steam), in what the sensor showed while it lived: what a frozen one repeats (service.evidence.frozen) is
left out, and so are single wild readings (service.evidence.spikes). A sensor that froze or fell silent before any steam, or
never moved, is suspect, and so is one that is saturated from the beginning, which cannot show a rise. Steam that was seen
stays seen.

Range. As of those two modules; nothing is said before there is a baseline.
"""

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from service.evidence.frozen import live_samples
from service.evidence.spikes import without_spikes
from service.evidence.steam import SteamNumbers, SteamOnset, steam_onset
from service.evidence.vapour import vapour_g_m3
from service.readings.cook import Cook
from service.units import BoolArray, FloatArray

Status = Literal["absent", "waiting", "usable", "suspect"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MoistureNumbers(SteamNumbers):
    """Numbers of a programme for the humidity sensor; the programme's file says what each does."""

    assumed_air_c: float
    stuck_s: float
    frozen_s: float
    frozen_runs: float
    lost_s: float
    spike_g_m3: float


class Moisture(NamedTuple):
    """What the sensor showed until `as_of`.

    Attributes:
        status: absent (no reading), waiting (no baseline yet), usable, or suspect (frozen or silent before any steam, or
            saturated all along).
        vapour_g_m3: newest vapour density; None without a reading.
        saturated: the sensor is at the end of its scale now.
        steam: baseline and onset; None while there is no baseline or where the sensor never worked.
        lived_until_s: until when a sensor that has failed since showed no steam (cook clock); 0 where it never worked, and
            None unless the sensor is suspect.
    """

    status: Status
    vapour_g_m3: float | None
    saturated: bool
    steam: SteamOnset | None
    lived_until_s: float | None = None


NOTHING = Moisture(status="absent", vapour_g_m3=None, saturated=False, steam=None)
_LOST_INTERVALS = 5.0


def moisture_evidence(cook: Cook, numbers: MoistureNumbers, as_of_s: float | None = None) -> Moisture:
    """Evidence of the humidity readings of `cook`, which holds nothing later than the moment of the decision.

    as_of_s: that moment; None leaves open whether the sensor has fallen silent since its last reading.
    """
    if not cook.humidity_ms.size:
        return NOTHING
    vapour = vapour_g_m3(cook.humidity_permille, cook.air_decidegrees, assumed_air_c=numbers.assumed_air_c)
    t_s = cook.humidity_ms / 1000.0
    live = live_samples(
        cook,
        vapour.is_saturated,
        stuck_s=numbers.stuck_s,
        frozen_s=numbers.frozen_s,
        frozen_runs=numbers.frozen_runs,
    )
    if is_saturated_all_along(t_s, vapour.is_saturated, numbers.quiet_s):
        live = 0
    steam = None
    if live:
        density_g_m3 = without_spikes(t_s[:live], vapour.density_g_m3[:live], numbers.spike_g_m3)
        if live < t_s.size:
            # What a frozen sensor repeats is the vapour that it saw last, whatever the air has warmed to since.
            density_g_m3 = np.concatenate((density_g_m3, np.full(t_s.size - live, density_g_m3[-1])))
        steam = steam_onset(t_s, density_g_m3, vapour.is_saturated, numbers)
    has_failed = live < t_s.size or (as_of_s is not None and _is_silent(t_s, as_of_s, numbers.lost_s))
    lived_until_s = None
    if has_failed and (steam is None or steam.onset_s is None):
        status: Status = "suspect"
        lived_until_s = float(t_s[live - 1]) if live else 0.0
    else:
        status = "waiting" if steam is None else "usable"
    return Moisture(
        status=status,
        vapour_g_m3=float(vapour.density_g_m3[-1]),
        saturated=bool(vapour.is_saturated[-1]),
        steam=steam,
        lived_until_s=lived_until_s,
    )


def _is_silent(t_s: FloatArray, as_of_s: float, lost_s: float) -> bool:
    """Whether the next reading is long overdue, for the rhythm in which they came."""
    silent_s = as_of_s - float(t_s[-1])
    return silent_s > lost_s and silent_s * (t_s.size - 1) > _LOST_INTERVALS * float(t_s[-1] - t_s[0])


def is_saturated_all_along(t_s: FloatArray, is_saturated: BoolArray, quiet_s: float) -> bool:
    if not is_saturated[0]:
        return False
    quiet = max(int(t_s.searchsorted(quiet_s)), 1)
    return bool(is_saturated[:quiet].all())
