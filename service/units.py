"""Units of the readings, and the physics of moist air that turns them into vapour.

Times are integer milliseconds, relative humidity is in tenths of a per cent (permille), air temperature in tenths
of a degree Celsius; everything computed from them is in seconds, per cent, degrees Celsius, pascals and grams.

Model. Water vapour is an ideal gas of pressure e = RH/100 * e_s(T), with the saturation pressure over a flat
surface of pure water

    ln e_s[Pa] = -6096.9385/T + 21.2409642 - 2.711193e-2 T + 1.673952e-5 T^2 + 2.433502 ln T        (T in kelvin)

and hence a density of 2.16674 g K/J * e/T. Boiling is where e_s reaches the pressure of the air, which falls with
altitude as in the International Standard Atmosphere.

Range. 0 to 100 degrees Celsius, within 0.02 % of the reference equation of state; the usual three-constant Magnus
formulas are 0.3 % low at 20 degrees and 2.4 % high at 100, so they are unfit for exhaust air. Ideal-gas density is
0.2 % low at 20 degrees and 1.5 % low at 100. The atmosphere formula holds from the sea to 11 km.

References. D. Sonntag (1990), Zeitschrift fuer Meteorologie 70:340-344 (saturation pressure; full formula, not the
short one); ISO 2533:1975 (standard atmosphere).
"""

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

FloatArray: TypeAlias = npt.NDArray[np.float64]
IntArray: TypeAlias = npt.NDArray[np.int32]
BoolArray: TypeAlias = npt.NDArray[np.bool_]

KELVIN_AT_0_C = 273.15
WATER_GAS_G_K_PER_J = 2.16674  # 1000 / R_v
WATER_TO_DRY_AIR_MASS_RATIO = 0.621945
SEA_LEVEL_PRESSURE_PA = 101_325.0
TROPOSPHERE_M = (-1000.0, 11_000.0)


def c_from_decidegrees(air_decidegrees: npt.ArrayLike) -> FloatArray:
    """Degrees Celsius from tenths of a degree; a scalar or an array."""
    return np.asarray(air_decidegrees, dtype=np.float64) / 10.0


def _log_saturation_pressure(kelvin: FloatArray) -> FloatArray:
    polynomial = 21.2409642 - 2.711193e-2 * kelvin + 1.673952e-5 * kelvin**2
    return -6096.9385 / kelvin + polynomial + 2.433502 * np.log(kelvin)


def saturation_pressure_pa(air_c: npt.ArrayLike) -> FloatArray:
    """Saturation pressure of water vapour over water, in Pa, of air at air_c degrees Celsius; a scalar or an array."""
    return np.exp(_log_saturation_pressure(np.asarray(air_c, dtype=np.float64) + KELVIN_AT_0_C))


def saturation_temperature_c(pressure_pa: npt.ArrayLike) -> FloatArray:
    """The temperature in degrees Celsius at which water vapour of this pressure is saturated; a scalar or an array.

    It is the dew point of vapour of this partial pressure and the boiling point of water under air of this pressure.
    Raises ValueError for a pressure that is not above zero.
    """
    pressure = np.asarray(pressure_pa, dtype=np.float64)
    if not np.all(pressure > 0.0):
        raise ValueError(f"a saturation temperature needs a pressure above 0 Pa; got {np.min(pressure)}")
    log_pressure = np.log(pressure)
    magnus = log_pressure - np.log(611.2)
    kelvin: FloatArray = 243.12 * magnus / (17.62 - magnus) + KELVIN_AT_0_C
    # Newton from a start within 0.7 K on a nearly straight line: three steps reach the last digit.
    for _ in range(3):
        slope = 6096.9385 / kelvin**2 - 2.711193e-2 + 2.0 * 1.673952e-5 * kelvin + 2.433502 / kelvin
        kelvin = kelvin - (_log_saturation_pressure(kelvin) - log_pressure) / slope
    return np.subtract(kelvin, KELVIN_AT_0_C)


def vapour_pressure_pa(rh_pct: npt.ArrayLike, air_c: npt.ArrayLike) -> FloatArray:
    """Partial pressure of water vapour in Pa, from relative humidity in per cent and air temperature in Celsius."""
    return np.asarray(rh_pct, dtype=np.float64) / 100.0 * saturation_pressure_pa(air_c)


def vapour_density_g_m3(rh_pct: npt.ArrayLike, air_c: npt.ArrayLike) -> FloatArray:
    """Water vapour in g/m3 from relative humidity in per cent and air temperature in degrees Celsius.

    Scalars or arrays that broadcast together; the answer has their common shape.
    """
    kelvin = np.asarray(air_c, dtype=np.float64) + KELVIN_AT_0_C
    return WATER_GAS_G_K_PER_J * vapour_pressure_pa(rh_pct, air_c) / kelvin


def dew_point_c(rh_pct: npt.ArrayLike, air_c: npt.ArrayLike) -> FloatArray:
    """Dew point over water in degrees Celsius; raises ValueError where the relative humidity is not above zero."""
    return saturation_temperature_c(vapour_pressure_pa(rh_pct, air_c))


def mixing_ratio_g_kg(rh_pct: npt.ArrayLike, air_c: npt.ArrayLike, pressure_pa: float) -> FloatArray:
    """Grams of water vapour per kilogram of dry air under a total pressure in Pa.

    Raises ValueError where the vapour alone would reach the total pressure (steam, with no air left to mix with).
    """
    vapour = vapour_pressure_pa(rh_pct, air_c)
    if not np.all(vapour < pressure_pa):
        raise ValueError(f"vapour of {np.max(vapour):.0f} Pa leaves no air in a total of {pressure_pa:.0f} Pa")
    return 1000.0 * WATER_TO_DRY_AIR_MASS_RATIO * vapour / (pressure_pa - vapour)


def air_pressure_pa(altitude_m: float) -> float:
    """Pressure in Pa of the standard atmosphere at an altitude in metres.

    Raises ValueError outside the troposphere (-1000 to 11 000 m).
    """
    lowest, highest = TROPOSPHERE_M
    if not lowest <= altitude_m <= highest:
        raise ValueError(f"an altitude of {altitude_m} m is outside {lowest:.0f} to {highest:.0f} m")
    return float(SEA_LEVEL_PRESSURE_PA * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588)


def boiling_point_c(altitude_m: float) -> float:
    """Boiling point of water in degrees Celsius at an altitude in metres; raises ValueError outside the troposphere."""
    return float(saturation_temperature_c(air_pressure_pa(altitude_m)))
