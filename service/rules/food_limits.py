"""The limits of a programme that is led by steam alone: caps that hold whatever was measured, and how to go about the end."""

from math import inf

from service.evidence.moisture import Moisture
from service.programs.programme import Programme
from service.readings.setup import Setup
from service.rules.limits import Limits


def food_limits_of(programme: Programme, setup: Setup, moisture: Moisture) -> Limits:
    """The limits for one cook. Raises KeyError for a programme that lacks a number.

    Without any sign of a sensor the cook ends when a typical load, or the one that was told, would steam at the latest.
    A sensor that lives is waited for longer. What only the sound could reach is out of reach.
    """
    number = programme.number
    cap_s = number("max_heating_s")
    cap_s = cap_s if setup.max_heating_s is None else min(cap_s, setup.max_heating_s)
    return Limits(
        gap_s=inf,
        cap_s=cap_s,
        blind_s=min(cap_s, _blind_s(programme, setup)),
        waiting_s=min(cap_s, number("waiting_heating_s")),
        hold_off_s=number("hold_off_s"),
        warn_lead_s=number("warn_lead_s"),
        decision_lead_s=number("decision_lead_s"),
        top_up_s=number("top_up_heating_s"),
        top_up_least_s=inf,
        stop_least_pops=0.0,
        stop_lull_s=inf,
        post_least_s=number("post_least_s"),
        post_typical_s=number("post_typical_s"),
        post_most_s=number("post_most_s"),
    )


def _blind_s(programme: Programme, setup: Setup) -> float:
    """Heating without a sensor, in proportion to the heat that the load takes over what the oven gives."""
    number = programme.number
    heavier = (setup.load_g or number("typical_load_g")) / number("typical_load_g")
    stronger = (setup.rated_w or number("typical_rated_w")) / number("typical_rated_w")
    return number("blind_heating_s") * heavier / stronger
