"""What the humidity sensor says of food: whether it is to be believed, when the food began to steam, and how the steam grew.

Model. Vapour density (service.evidence.vapour), the onset of steam (service.evidence.first_steam), its growth
(service.evidence.steam_growth) and how suddenly it came (service.evidence.sudden_steam). A pause, in which the door may stand
open, and the seconds after it are left out; the gaps of an oven that switches in a rhythm are no pauses. A sensor that never
moves is stuck, one that is saturated from the beginning cannot show a rise; both are suspect.

Range. As of those modules; nothing is said before there is a baseline.
"""

from dataclasses import dataclass

import numpy as np

from service.evidence.first_steam import FirstSteamNumbers, Samples, first_steam, level_before_g_m3
from service.evidence.moisture import NOTHING, Moisture, Status, is_saturated_all_along
from service.evidence.spikes import without_spikes
from service.evidence.steam_growth import GrowthNumbers, SteamGrowth, steam_growth
from service.evidence.sudden_steam import SuddenSteam, sudden_steam
from service.evidence.vapour import vapour_g_m3
from service.readings.cook import NO_AIR, Cook
from service.readings.heating import HeatingClock
from service.units import BoolArray, FloatArray

_PAUSE_SETTLES_S = 15.0
_AT_THE_START_S = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FoodMoistureNumbers:
    """Numbers of a programme for the humidity sensor over food; the programme's file says what each does."""

    first: FirstSteamNumbers
    growth: GrowthNumbers
    assumed_air_c: float
    stuck_s: float
    quiet_s: float
    spike_g_m3: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FoodMoisture:
    """What the sensor showed until `as_of`.

    Attributes:
        moisture: its status, the newest vapour, and the onset of steam.
        growth: how the steam grew; None before it came.
        sudden: how suddenly it came; None where that cannot be said.
    """

    moisture: Moisture
    growth: SteamGrowth | None
    sudden: SuddenSteam | None


def food_moisture(cook: Cook, clock: HeatingClock, numbers: FoodMoistureNumbers, after_s: float = 0.0) -> FoodMoisture:
    """Evidence of the humidity readings of `cook`, which holds nothing later than the clock's `as_of_s`.

    Steam that came before `after_s` is left out of account.
    """
    if not cook.humidity_ms.size:
        return FoodMoisture(moisture=NOTHING, growth=None, sudden=None)
    vapour = vapour_g_m3(cook.humidity_permille, cook.air_decidegrees, assumed_air_c=numbers.assumed_air_c)
    t_s = cook.humidity_ms / 1000.0
    samples = Samples(
        t_s=t_s,
        vapour_g_m3=without_spikes(t_s, vapour.density_g_m3, numbers.spike_g_m3),
        humidity_permille=cook.humidity_permille,
        is_calm=_is_calm(t_s, clock),
        has_air=bool((cook.air_decidegrees != NO_AIR).any()),
        in_rhythm=clock.rhythm is not None,
    )
    failed = _is_stuck(cook, numbers.stuck_s) or is_saturated_all_along(t_s, vapour.is_saturated, numbers.quiet_s)
    steam = None if failed else first_steam(samples, numbers.first, after_s)
    status: Status = "suspect" if failed else "waiting" if steam is None else "usable"
    growth = sudden = None
    if steam is not None and steam.onset_s is not None and steam.alarm_s is not None:
        level_g_m3 = level_before_g_m3(samples, steam.alarm_s)
        growth = _growth(samples, clock, steam.onset_s, level_g_m3, numbers)
        sudden = _sudden(samples, vapour.is_saturated, clock, steam.onset_s, level_g_m3, numbers)
    moisture = Moisture(
        status=status,
        vapour_g_m3=float(vapour.density_g_m3[-1]),
        saturated=bool(vapour.is_saturated[-1]),
        steam=steam,
    )
    return FoodMoisture(moisture=moisture, growth=growth, sudden=sudden)


def _is_stuck(cook: Cook, stuck_s: float) -> bool:
    if int(cook.humidity_ms[-1] - cook.humidity_ms[0]) < 1000.0 * stuck_s:
        return False
    column = cook.humidity_permille
    return column[0] == column[-1] and bool((column == column[0]).all())


def _is_calm(t_s: FloatArray, clock: HeatingClock) -> BoolArray:
    calm = np.ones(t_s.shape, dtype=np.bool_)
    if clock.is_plain or clock.rhythm is not None:
        return calm
    for set_s, level, until_s in zip(clock.set_s, clock.levels, [*clock.set_s[1:], clock.as_of_s], strict=True):
        if level == 0.0 and until_s > _AT_THE_START_S:
            first, last = t_s.searchsorted((set_s, until_s + _PAUSE_SETTLES_S)).tolist()
            calm[first:last] = False
    return calm


def _growth(
    samples: Samples, clock: HeatingClock, onset_s: float, level_g_m3: float, numbers: FoodMoistureNumbers
) -> SteamGrowth | None:
    """Growth since the rise was seen to begin, which is the transport delay after the onset."""
    seen_s = onset_s + numbers.first.sensor_delay_s + numbers.first.first_growth_s
    first = int(samples.t_s.searchsorted(seen_s))
    t_s = samples.t_s[first:]
    if not t_s.size:
        return None
    u_s = clock.full_power_s(t_s)
    began_u_s = clock.full_power_s(seen_s)
    disturbed = ~samples.is_calm[first:]
    ran_through = float(u_s[int(disturbed.argmax())] if disturbed.any() else u_s[-1]) - began_u_s
    excess = samples.vapour_g_m3[first:] - level_g_m3
    return steam_growth(u_s - began_u_s, excess, ran_through_u_s=ran_through, numbers=numbers.growth)


def _sudden(
    samples: Samples,
    is_saturated: BoolArray,
    clock: HeatingClock,
    onset_s: float,
    level_g_m3: float,
    numbers: FoodMoistureNumbers,
) -> SuddenSteam | None:
    """How suddenly the steam came, where the food was heated evenly since and the sensor could show it."""
    seen_s = onset_s + numbers.first.sensor_delay_s
    first = int(samples.t_s.searchsorted(seen_s))
    if not samples.is_calm[first:].all() or is_saturated[first:].any() or not _is_even(clock, onset_s):
        return None
    return sudden_steam(
        clock.full_power_s(samples.t_s[first:]) - clock.full_power_s(seen_s),
        samples.vapour_g_m3[first:] - level_g_m3,
        steams_u_s=max(clock.full_power_s(onset_s), 1.0),
    )


def _is_even(clock: HeatingClock, since_s: float) -> bool:
    """Whether the level of power has stayed what it was."""
    return clock.is_plain or all(set_s <= since_s for set_s in clock.set_s)
