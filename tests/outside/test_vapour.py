"""Moist air against published tables: saturation pressure, dew point, mixing ratio, vapour density, boiling point."""

import numpy as np
import psychrolib
import pytest

from service.evidence.vapour import vapour_g_m3
from service.readings.cook import NO_AIR
from service.units import (
    air_pressure_pa,
    boiling_point_c,
    dew_point_c,
    mixing_ratio_g_kg,
    saturation_pressure_pa,
    saturation_temperature_c,
    vapour_density_g_m3,
    vapour_pressure_pa,
)

SEA_LEVEL_PA = 101_325.0


@pytest.fixture(autouse=True)
def _si_units() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)


# ASHRAE Handbook - Fundamentals (2017), chapter 1, table 3.
@pytest.mark.parametrize(("air_c", "pressure_pa"), [(5.0, 872.6), (25.0, 3169.7), (50.0, 12351.3), (100.0, 101418.0)])
def test_saturation_pressure_agrees_with_the_ashrae_table(air_c: float, pressure_pa: float) -> None:
    """300 parts per million is the tolerance that open implementations of the handbook hold themselves to."""
    assert saturation_pressure_pa(air_c) == pytest.approx(pressure_pa, rel=300e-6)


# W. Wagner and A. Pruss (2002), J. Phys. Chem. Ref. Data 31:387 (IAPWS-95), computed with CoolProp;
# Sonntag (1990), full formula, computed from its constants.
SATURATION_PA = [
    # air_c, IAPWS-95, Sonntag
    (5.0, 872.58, 872.54),
    (10.0, 1228.20, 1228.13),
    (20.0, 2339.32, 2339.25),
    (25.0, 3169.93, 3169.90),
    (30.0, 4246.97, 4247.03),
    (40.0, 7384.94, 7385.30),
    (50.0, 12351.95, 12352.74),
    (60.0, 19946.43, 19947.66),
    (70.0, 31200.93, 31202.33),
    (80.0, 47414.47, 47415.54),
    (90.0, 70181.77, 70182.21),
    (100.0, 101418.00, 101419.04),
]


@pytest.mark.parametrize(("air_c", "iapws_pa", "sonntag_pa"), SATURATION_PA)
def test_saturation_pressure_agrees_with_the_equation_of_state(
    air_c: float, iapws_pa: float, sonntag_pa: float
) -> None:
    """The formula is the one it claims to be, and within 0.007 % of the reference for water over 0 to 100 degrees."""
    assert saturation_pressure_pa(air_c) == pytest.approx(sonntag_pa, abs=0.0051)
    assert saturation_pressure_pa(air_c) == pytest.approx(iapws_pa, rel=7e-5)


def test_saturation_pressure_agrees_with_the_industrial_formulation() -> None:
    """IAPWS-IF97 verification table for region 4 (from memory, recomputed with the iapws library): 300 K."""
    assert saturation_pressure_pa(300.0 - 273.15) == pytest.approx(0.353658941e-2 * 1e6, rel=1e-4)


@pytest.mark.parametrize(("air_c", "iapws_pa", "short_error_pct"), [(20.0, 2339.32, -0.29), (100.0, 101418.00, 2.39)])
def test_a_three_constant_formula_would_not_do(air_c: float, iapws_pa: float, short_error_pct: float) -> None:
    """WMO-No. 8 (6.112, 17.62, 243.12) against IAPWS-95, computed: off by 0.3 % in a kitchen, by 2.4 % in steam."""
    short_pa = 611.2 * np.exp(17.62 * air_c / (243.12 + air_c))
    assert 100.0 * (short_pa / iapws_pa - 1.0) == pytest.approx(short_error_pct, abs=0.01)
    assert abs(saturation_pressure_pa(air_c) / iapws_pa - 1.0) < 1e-4


@pytest.mark.parametrize("rh_pct", [5.0, 40.0, 80.0, 100.0])
def test_moist_air_agrees_with_psychrolib_from_freezing_to_boiling(rh_pct: float) -> None:
    """D. Meyer and D. Thevenard (2019), J. Open Source Software 4(33):1137, an implementation of ASHRAE (2017)."""
    for air_c in np.linspace(0.1, 99.0, 100):
        reference_pa = psychrolib.GetVapPresFromRelHum(air_c, rh_pct / 100.0)
        assert vapour_pressure_pa(rh_pct, air_c) == pytest.approx(reference_pa, rel=3e-4)
        reference_c = psychrolib.GetTDewPointFromVapPres(air_c, reference_pa)
        if reference_c > 0.0:
            assert dew_point_c(rh_pct, air_c) == pytest.approx(reference_c, abs=0.02)
        reference_g_kg = 1000.0 * psychrolib.GetHumRatioFromVapPres(reference_pa, SEA_LEVEL_PA)
        # Near boiling hardly any dry air is left, and the ratio magnifies every difference in pressure.
        tolerance = 3e-4 * SEA_LEVEL_PA / (SEA_LEVEL_PA - reference_pa) + 1e-5
        assert mixing_ratio_g_kg(rh_pct, air_c, SEA_LEVEL_PA) == pytest.approx(reference_g_kg, rel=tolerance)


# Vapour pressure, density, mixing ratio and dew point, computed with psychrolib (ASHRAE 2017); 2.16674 g K/J.
CHAIN = [
    # air_c, rh_pct, total_pa, e_pa, density_g_m3, ratio_g_kg, dew_point_c
    (20.0, 60.0, 101325.0, 1403.28, 10.3720, 8.7345, 12.007),
    (23.0, 45.0, 101325.0, 1264.70, 9.2530, 7.8610, 10.440),
    (25.0, 50.0, 101325.0, 1584.61, 11.5158, 9.8810, 13.864),
    (25.0, 80.0, 101325.0, 2535.37, 18.4253, 15.9618, 21.309),
    (25.0, 50.0, 84560.0, 1584.61, 11.5158, 11.8775, 13.864),
    (30.0, 80.0, 101325.0, 3396.82, 24.2785, 21.5733, 26.169),
    (40.0, 50.0, 101325.0, 3691.73, 25.5437, 23.5171, 27.585),
    (50.0, 90.0, 101325.0, 11114.87, 74.5258, 76.6304, 47.893),
    (60.0, 30.0, 101325.0, 5983.13, 38.9130, 39.0298, 36.111),
    (80.0, 20.0, 101325.0, 9482.32, 58.1784, 64.2129, 44.774),
]


@pytest.mark.parametrize(("air_c", "rh_pct", "total_pa", "vapour_pa", "density_g_m3", "ratio_g_kg", "dew_c"), CHAIN)
def test_the_chain_from_relative_humidity_agrees(
    air_c: float, rh_pct: float, total_pa: float, vapour_pa: float, density_g_m3: float, ratio_g_kg: float, dew_c: float
) -> None:
    """Every step from relative humidity to density, mixing ratio and dew point is right, also at altitude."""
    assert vapour_pressure_pa(rh_pct, air_c) == pytest.approx(vapour_pa, rel=3e-4)
    assert vapour_density_g_m3(rh_pct, air_c) == pytest.approx(density_g_m3, rel=3e-4)
    assert mixing_ratio_g_kg(rh_pct, air_c, total_pa) == pytest.approx(ratio_g_kg, rel=4e-4)
    assert dew_point_c(rh_pct, air_c) == pytest.approx(dew_c, abs=0.006)


def test_mixing_ratio_agrees_with_the_handbook() -> None:
    """ASHRAE Handbook - Fundamentals (2017), chapter 1: air saturated at 25 degrees under 95 461 Pa."""
    assert mixing_ratio_g_kg(100.0, 25.0, 95_461.0) == pytest.approx(21.3603998, rel=1e-4)
    assert vapour_pressure_pa(80.0, 25.0) == pytest.approx(2535.76, rel=1e-4)


# ASHRAE Handbook - Fundamentals (2017), chapter 1, table 2, which includes the enhancement factor of real air.
@pytest.mark.parametrize(("air_c", "ratio_g_kg"), [(5.0, 5.425), (25.0, 20.173), (50.0, 86.863), (85.0, 838.105)])
def test_saturated_mixing_ratio_is_that_of_real_air_but_for_its_enhancement(air_c: float, ratio_g_kg: float) -> None:
    """The ideal-gas ratio lies below the table of real air, by no more than 2 %."""
    ideal_g_kg = float(mixing_ratio_g_kg(100.0, air_c, SEA_LEVEL_PA))
    assert 0.98 * ratio_g_kg <= ideal_g_kg <= ratio_g_kg


# Density of saturated vapour, computed with the iapws library (IAPWS-IF97): ideal gas under ASHRAE pressure, real gas.
@pytest.mark.parametrize(
    ("air_c", "ideal_g_m3", "real_g_m3"),
    [
        (0.0, 4.848, 4.851),
        (10.0, 9.397, 9.407),
        (20.0, 17.287, 17.313),
        (25.0, 23.032, 23.073),
        (30.0, 30.348, 30.412),
        (40.0, 51.087, 51.237),
        (50.0, 82.806, 83.140),
        (60.0, 129.71, 130.42),
        (80.0, 290.89, 293.66),
        (100.0, 588.9, 598.14),
    ],
)
def test_saturated_vapour_density_agrees(air_c: float, ideal_g_m3: float, real_g_m3: float) -> None:
    """Ideal-gas density is as computed elsewhere, and short of the real gas by at most 1.6 % at boiling."""
    assert vapour_density_g_m3(100.0, air_c) == pytest.approx(ideal_g_m3, rel=3e-4)
    assert 0.984 < vapour_density_g_m3(100.0, air_c) / real_g_m3 < 1.0


# M. G. Lawrence (2005), Bull. Amer. Meteor. Soc. 86:225-233: the dew point falls by 1 degree for each 5 % of relative
# humidity, from the air temperature at 100 %; stated for above 50 %. The middle column is computed with the formula
# that paper uses.
@pytest.mark.parametrize(
    ("rh_pct", "computed_c", "rule_c"),
    [(95, 19.174, 19), (90, 18.309, 18), (80, 16.444, 16), (70, 14.362, 14), (60, 12.000, 12), (50, 9.261, 10)],
)
def test_dew_point_follows_the_rule_of_thumb(rh_pct: float, computed_c: float, rule_c: float) -> None:
    """At 20 degrees."""
    assert dew_point_c(rh_pct, 20.0) == pytest.approx(computed_c, abs=0.02)
    assert dew_point_c(rh_pct, 20.0) == pytest.approx(rule_c, abs=0.75)


@pytest.mark.parametrize("warmer_c", [30.0, 40.0, 60.0, 90.0])
def test_warming_air_lowers_its_relative_humidity_and_leaves_its_vapour(warmer_c: float) -> None:
    """Air of 25 degrees and 50 % warmed at constant vapour: pressure and dew point stay, density falls as 1/T only."""
    vapour_pa = vapour_pressure_pa(50.0, 25.0)
    rh_pct = float(100.0 * vapour_pa / saturation_pressure_pa(warmer_c))
    assert rh_pct < 40.0
    assert dew_point_c(rh_pct, warmer_c) == pytest.approx(float(dew_point_c(50.0, 25.0)), abs=1e-9)
    ratio = vapour_density_g_m3(rh_pct, warmer_c) / vapour_density_g_m3(50.0, 25.0)
    assert ratio == pytest.approx(298.15 / (warmer_c + 273.15), rel=1e-12)


def test_relative_humidity_can_fall_while_vapour_rises() -> None:
    """25 degrees and 50 % warmed to 40 degrees is 21.46 % (computed with psychrolib); at 25 % there is more vapour."""
    warmed_pct = 100.0 * vapour_pressure_pa(50.0, 25.0) / saturation_pressure_pa(40.0)
    assert warmed_pct == pytest.approx(21.462, abs=0.01)
    cook = vapour_g_m3(np.array([500, 250], np.int32), np.array([250, 400], np.int32), assumed_air_c=25.0)
    assert cook.density_g_m3[1] > 1.1 * cook.density_g_m3[0]


# Published altitude tables for cooks (christianchefs.org for whole thousands of feet, another for metres). Pressure is
# computed from the standard atmosphere, temperature from IAPWS. Published tables differ from each other by up to 0.7.
BOILING = [
    # altitude_m, pressure_kpa, computed_c, published_c
    (0.0, 101.325, 99.97, 100.0),
    (300.0, 97.773, 98.98, 99.1),
    (600.0, 94.322, 97.98, 98.1),
    (610.0, None, None, 97.9),
    (1000.0, 89.875, 96.65, 96.8),
    (1524.0, 84.307, 94.90, 94.8),
    (2000.0, 79.495, 93.32, 93.3),
    (2438.0, 75.266, 91.85, 91.6),
    (3048.0, 69.682, 89.81, 90.0),
    (4000.0, 61.640, 86.62, 87.3),
]


@pytest.mark.parametrize(("altitude_m", "pressure_kpa", "computed_c", "published_c"), BOILING)
def test_water_boils_cooler_higher_up(
    altitude_m: float, pressure_kpa: float | None, computed_c: float | None, published_c: float
) -> None:
    """Within 0.5 degrees of the published tables below 3000 m, 0.7 above, and on the computed values throughout."""
    assert boiling_point_c(altitude_m) == pytest.approx(published_c, abs=0.5 if altitude_m < 3000.0 else 0.7)
    if pressure_kpa is not None:
        assert air_pressure_pa(altitude_m) == pytest.approx(1000.0 * pressure_kpa, abs=0.6)
        assert boiling_point_c(altitude_m) == pytest.approx(computed_c, abs=0.011)


def test_saturation_temperature_undoes_saturation_pressure() -> None:
    """From far below freezing to beyond boiling."""
    air_c = np.linspace(-20.0, 105.0, 501)
    np.testing.assert_allclose(saturation_temperature_c(saturation_pressure_pa(air_c)), air_c, atol=1e-9)


def test_impossible_air_is_refused() -> None:
    """No dew point without vapour, no mixing ratio in pure steam, no altitude in space."""
    with pytest.raises(ValueError, match="above 0 Pa"):
        dew_point_c(0.0, 20.0)
    with pytest.raises(ValueError, match="leaves no air"):
        mixing_ratio_g_kg(100.0, 100.0, 90_000.0)
    with pytest.raises(ValueError, match="outside -1000 to 11000 m"):
        boiling_point_c(12_000.0)


@pytest.mark.parametrize(
    ("air", "taken_c"),
    [
        ([250, 300, 350, 400], [25.0, 30.0, 35.0, 40.0]),
        ([None, 300, None, 400], [30.0, 30.0, 30.0, 40.0]),
        ([250, None, None, 400], [25.0, 25.0, 40.0, 40.0]),
        ([None, None, None, 400], [40.0, 40.0, 40.0, 40.0]),
        ([None, None, None, None], [22.0, 22.0, 22.0, 22.0]),
    ],
)
def test_a_missing_air_temperature_is_that_of_the_nearest_reading(air: list[int | None], taken_c: list[float]) -> None:
    """Of two as near, the earlier; with none in the whole cook, the assumed one. What was assumed is flagged."""
    decidegrees = np.array([NO_AIR if value is None else value for value in air], np.int32)
    humidity = np.array([400, 400, 600, 990], np.int32)
    vapour = vapour_g_m3(humidity, decidegrees, assumed_air_c=22.0)
    np.testing.assert_allclose(vapour.density_g_m3, vapour_density_g_m3(humidity / 10.0, np.array(taken_c)))
    assert vapour.is_assumed.tolist() == [value is None for value in air]


def test_a_sensor_at_the_end_of_its_scale_is_flagged() -> None:
    """From 99.5 % on."""
    humidity = np.array([0, 990, 994, 995, 1000], np.int32)
    vapour = vapour_g_m3(humidity, np.full(5, 400, np.int32), assumed_air_c=22.0)
    assert vapour.is_saturated.tolist() == [False, False, False, True, True]
    assert vapour.density_g_m3[0] == 0.0


def test_no_readings_make_no_vapour() -> None:
    """Empty in, empty out; columns of two lengths are refused."""
    nothing = np.array([], np.int32)
    assert vapour_g_m3(nothing, nothing, assumed_air_c=22.0).density_g_m3.shape == (0,)
    with pytest.raises(ValueError, match="1 humidities came with 0"):
        vapour_g_m3(np.array([400], np.int32), nothing, assumed_air_c=22.0)
