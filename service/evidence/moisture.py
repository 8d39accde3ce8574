"""What the humidity sensor says: whether it is to be believed, how much vapour there is, and when steam began.

Model. Vapour density from relative humidity and air temperature (service.evidence.vapour), the onset of steam from its
rise (service.evidence.steam). A sensor whose readings never move at all is stuck; one that is saturated from the
beginning cannot show a rise. Both are suspect.

Range. As of those two modules; nothing is said before there is a baseline.
"""

from dataclasses import dataclass
from typing import Literal

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moisture:
    """What the sensor showed until `as_of`.

    Attributes:
        status: absent (no reading), waiting (no baseline yet), usable, or suspect (stuck, or saturated all along).
        vapour_g_m3: newest vapour density; None without a reading.
        saturated: the sensor is at the end of its scale now.
        steam: baseline and onset; None while there is no baseline or the sensor is suspect.
    """

    status: Status
    vapour_g_m3: float | None
    saturated: bool
    steam: SteamOnset | None


NOTHING = Moisture(status="absent", vapour_g_m3=None, saturated=False, steam=None)


def moisture_evidence(cook: Cook, numbers: MoistureNumbers) -> Moisture:
    """Evidence of the humidity readings of `cook`, which holds nothing later than the moment of the decision."""
    if not cook.humidity_ms.size:
        return NOTHING
    vapour = vapour_g_m3(cook.humidity_permille, cook.air_decidegrees, assumed_air_c=numbers.assumed_air_c)
    t_s = cook.humidity_ms / 1000.0
    steam = None
    if is_stuck(cook, numbers.stuck_s) or is_saturated_all_along(t_s, vapour.is_saturated, numbers.quiet_s):
        status: Status = "suspect"
    else:
        steam = steam_onset(t_s, vapour.density_g_m3, vapour.is_saturated, numbers)
        status = "waiting" if steam is None else "usable"
    return Moisture(
        status=status,
        vapour_g_m3=float(vapour.density_g_m3[-1]),
        saturated=bool(vapour.is_saturated[-1]),
        steam=steam,
    )


def is_stuck(cook: Cook, stuck_s: float) -> bool:
    if int(cook.humidity_ms[-1] - cook.humidity_ms[0]) < 1000.0 * stuck_s:
        return False
    columns = (cook.humidity_permille, cook.air_decidegrees)
    return all(column[0] == column[-1] and bool((column == column[0]).all()) for column in columns)


def is_saturated_all_along(t_s: FloatArray, is_saturated: BoolArray, quiet_s: float) -> bool:
    if not is_saturated[0]:
        return False
    quiet = max(int(t_s.searchsorted(quiet_s)), 1)
    return bool(is_saturated[:quiet].all())
