"""The limits of a programme that is led by steam alone: caps that hold whatever was measured, and how to go about the end."""

from math import inf

from service.evidence.food_heat import specific_heat_j_g_k
from service.evidence.heat_balance import absorbed_share, time_to_steam_s
from service.programs.programme import Programme
from service.readings.setup import Setup
from service.rules.limits import Limits
from service.units import boiling_point_c


def food_limits_of(programme: Programme, setup: Setup) -> Limits:
    """The limits for one cook. Raises KeyError for a programme that lacks a number.

    Without any sign of a sensor the cook ends when a typical load, or the one that was told, would boil at the latest.
    A sensor that lives is waited for longer. What only the sound could reach is out of reach.
    """
    number = programme.number
    cap_s = number("max_heating_s")
    cap_s = cap_s if setup.max_heating_s is None else min(cap_s, setup.max_heating_s)
    boils_s = _boils_s(programme, setup)
    return Limits(
        gap_s=inf,
        cap_s=cap_s,
        blind_s=min(cap_s, number("blind_share") * boils_s),
        strays_s=0.0,
        waiting_s=min(cap_s, _waiting_s(programme, setup, boils_s)),
        hold_off_s=number("hold_off_s"),
        warn_lead_s=number("warn_lead_s"),
        decision_lead_s=number("decision_lead_s"),
        top_up_s=number("top_up_heating_s"),
        top_up_least_s=inf,
        stop_least_pops=0.0,
        stop_lull_s=inf,
        pops_on_count=inf,
        silence_share=1.0,
        steam_lasts_s=number("steam_lasts_s"),
        post_least_s=number("post_least_s"),
        post_typical_s=number("post_typical_s"),
        post_most_s=number("post_most_s"),
    )


def _waiting_s(programme: Programme, setup: Setup, boils_s: float) -> float:
    """Heating without steam, though a sensor lives: less where oven and load say that there should long have been some."""
    most_s = programme.number("waiting_heating_s")
    known = setup.load_g is not None and setup.rated_w is not None
    return min(most_s, programme.number("waiting_share") * boils_s) if known else most_s


def _boils_s(programme: Programme, setup: Setup) -> float:
    """What would warm the whole load evenly to boiling (s of heating at full power)."""
    number = programme.number
    load_g = setup.load_g or number("typical_load_g")
    rated_w = setup.rated_w or number("typical_rated_w")
    shares = (number("solid_water_share"), number("solid_protein_share"), number("solid_fat_share"))
    start_c, boils_c = number("blind_start_c"), boiling_point_c(setup.site_altitude_m or 0.0)
    heat_j_g_k = specific_heat_j_g_k(*shares, (start_c + boils_c) / 2.0)
    absorbed_w = rated_w * absorbed_share(load_g, number("power_share"), number("half_load_g"))
    return time_to_steam_s(load_g, heat_j_g_k, boils_c - start_c, absorbed_w)
