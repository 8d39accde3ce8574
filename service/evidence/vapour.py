"""Water vapour in the exhaust air, from relative humidity and the air temperature beside the sensor.

Model. Relative humidity alone is unsafe: warming the air at constant vapour lowers it, so it can fall while steam
pours out. The density of the vapour, 2.16674 g K/J * e/T with e = RH/100 * e_s(T), changes under such warming only
as 1/T (a tenth over 30 degrees), and is what the steam estimators work on.

Assumptions. The sensor and the air beside it are at one temperature. Where no temperature was reported, that of the
nearest reading of the same cook that has one stands in; where the whole cook has none, an assumed one does. Such a
density has the right sign of change as long as the air does not warm, and is flagged.

Range. 0 to 100 degrees Celsius. A capacitive sensor at the end of its scale no longer follows the vapour, so a
saturated reading is a lower bound, and is flagged.

Reference. service.units (D. Sonntag 1990); M. G. Lawrence (2005), Bull. Amer. Meteor. Soc. 86:225-233, for what
relative humidity does and does not say about moisture.
"""

from typing import NamedTuple

import numpy as np

from service.readings.cook import HOTTEST_DECIDEGREES, NO_AIR
from service.units import BoolArray, FloatArray, IntArray, c_from_decidegrees, vapour_density_g_m3

# Half a per cent from the end of the scale: below that the resolution of the readings still tells two values apart.
SATURATED_PERMILLE = 995
# Temperatures are whole tenths of a degree of 16 bits, so that every density there can be is worked out once, those below
# zero at the end; air that is colder or hotter than all of these is taken for the nearest.
_COLDEST, _HOTTEST = -500, 3000
_DECIDEGREES = np.concatenate((np.arange(HOTTEST_DECIDEGREES + 1), np.arange(NO_AIR, 0)))
_PER_PERMILLE_G_M3 = vapour_density_g_m3(0.1, c_from_decidegrees(_DECIDEGREES.clip(_COLDEST, _HOTTEST)))


class Vapour(NamedTuple):
    """One entry per humidity reading, in the order of the readings."""

    density_g_m3: FloatArray
    air_decidegrees: IntArray  # as it was told
    is_saturated: BoolArray  # the sensor is at the end of its scale

    @property
    def is_assumed(self) -> BoolArray:
        """The air temperature is that of another reading, or the programme's."""
        is_assumed: BoolArray = self.air_decidegrees == NO_AIR
        return is_assumed


def vapour_g_m3(humidity_permille: IntArray, air_decidegrees: IntArray, *, assumed_air_c: float) -> Vapour:
    """Vapour density of every humidity reading.

    humidity_permille (tenths of a per cent) and air_decidegrees (tenths of a degree Celsius, NO_AIR where it is not
    known) have one shape, in order of time. assumed_air_c stands in, in degrees Celsius, when no reading has a
    temperature. Raises ValueError when the shapes differ.
    """
    if humidity_permille.shape != air_decidegrees.shape:
        raise ValueError(f"{humidity_permille.size} humidities came with {air_decidegrees.size} air temperatures")
    # Where some temperature is missing the lowest of them says so.
    is_whole = not air_decidegrees.size or air_decidegrees.item(air_decidegrees.argmin()) != NO_AIR
    air = air_decidegrees if is_whole else _nearest_known(air_decidegrees, round(10.0 * assumed_air_c))
    density_g_m3 = _PER_PERMILLE_G_M3.take(air, mode="wrap")
    density_g_m3 *= humidity_permille
    is_saturated = humidity_permille >= SATURATED_PERMILLE
    return Vapour(density_g_m3=density_g_m3, air_decidegrees=air_decidegrees, is_saturated=is_saturated)


def _nearest_known(air_decidegrees: IntArray, assumed_decidegrees: int) -> IntArray:
    """Temperature of the nearest reading that has one, counted in readings; of two as near, the earlier."""
    is_known: BoolArray = air_decidegrees != NO_AIR
    (known,) = is_known.nonzero()
    if known.size == 0:
        return np.full(air_decidegrees.shape, assumed_decidegrees, dtype=np.int32)
    reading = np.arange(air_decidegrees.size)
    later = np.minimum(known.searchsorted(reading), known.size - 1)
    earlier = np.maximum(later - 1, 0)
    later_is_nearer = np.abs(known[later] - reading) < np.abs(reading - known[earlier])
    return air_decidegrees[known[np.where(later_is_nearer, later, earlier)]]
