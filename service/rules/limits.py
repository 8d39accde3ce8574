"""What the rules hold the evidence against: the programme's numbers, and what the setup makes of them."""

from dataclasses import dataclass
from functools import lru_cache
from math import exp, log
from statistics import NormalDist

from service.evidence.moisture import Moisture
from service.programs.programme import Programme
from service.readings.heating import HeatingClock
from service.readings.setup import Setup

_NORMAL = NormalDist()
_ALL = 1.0 - 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Limits of the programme and of the setup (s of heating, unless said otherwise).

    Attributes:
        gap_s: the silence that ends a cook.
        cap_s: the most heating.
        blind_s: the most heating when no sensor has shown life.
        strays_s: until so much heating a few pops, without steam, are taken for strays.
        waiting_s: the most heating when one has, but has said nothing yet.
        hold_off_s: no evidence ends a cook before this much heating.
        warn_lead_s, decision_lead_s: how far ahead of the stop a person is told, and the stop given (cook clock).
        top_up_s, top_up_least_s: the most heating after a restart, and the least before a silence counts.
        stop_least_pops: pops that a stop by sound alone takes for granted.
        steam_lasts_s: no food is taken for done before its steam has been seen for so long; 0 where the sound counts.
        silence_share: a microphone that hears less than this share of the pops must hear a longer silence.
        stop_lull_s: the silence that does after fewer.
        pops_on_count: a shut bag with more pops than this in the silence that ends a cook is not at its end.
        post_least_s, post_typical_s, post_most_s: how soon the next question is worth asking (cook clock).
    """

    gap_s: float
    cap_s: float
    blind_s: float
    strays_s: float
    waiting_s: float
    hold_off_s: float
    warn_lead_s: float
    decision_lead_s: float
    top_up_s: float
    top_up_least_s: float
    stop_least_pops: float
    stop_lull_s: float
    pops_on_count: float
    silence_share: float
    steam_lasts_s: float
    post_least_s: float
    post_typical_s: float
    post_most_s: float


def limits_of(programme: Programme, setup: Setup, moisture: Moisture, clock: HeatingClock) -> Limits:
    """The limits for one cook. Raises KeyError for a programme that lacks a number."""
    lived_until_s = moisture.lived_until_s
    return _limits(programme, setup, None if lived_until_s is None else clock.heating_s(lived_until_s))


@lru_cache(maxsize=256)
def _limits(programme: Programme, setup: Setup, dry_until_s: float | None) -> Limits:
    number = programme.number
    cap_s = number("max_heating_s")
    cap_s = cap_s if setup.max_heating_s is None else min(cap_s, setup.max_heating_s)
    return Limits(
        gap_s=number("gap_s") if setup.gap_s is None else setup.gap_s,
        cap_s=cap_s,
        blind_s=min(cap_s, _blind_s(programme, setup, dry_until_s)),
        strays_s=min(cap_s, _blind_s(programme, setup, None)),
        waiting_s=min(cap_s, _waiting_s(programme, setup, dry_until_s)),
        hold_off_s=number("hold_off_s"),
        warn_lead_s=number("warn_lead_s"),
        decision_lead_s=number("decision_lead_s"),
        top_up_s=number("top_up_heating_s"),
        top_up_least_s=number("top_up_least_s"),
        stop_least_pops=number("stop_least_pops"),
        stop_lull_s=number("stop_lull_s"),
        pops_on_count=number("pops_on_count"),
        silence_share=number("silence_share"),
        steam_lasts_s=0.0,
        post_least_s=number("post_least_s"),
        post_typical_s=number("post_typical_s"),
        post_most_s=number("post_most_s"),
    )


def _blind_s(programme: Programme, setup: Setup, dry_until_s: float | None) -> float:
    """Heating without evidence: scaled to load and rating, longer where a microphone is probably listening.

    It is when the appliance says so, and likely when an appliance with one failed sensor has sent nothing else: two
    failures at once are rarer than an oven so weak that nothing has popped yet.
    """
    number = programme.number
    listening = setup.sensors is not None and "acoustic" in setup.sensors
    base_s = number("listening_heating_s" if listening else "blind_heating_s")
    if dry_until_s is not None:
        base_s = max(base_s, number("half_blind_heating_s"))
    return base_s * _longer(programme, setup) * _later(programme, setup, dry_until_s)


def _waiting_s(programme: Programme, setup: Setup, dry_until_s: float | None) -> float:
    """Heating while a sensor lives; less where it is a microphone that has heard but a few sounds, and the other has failed."""
    number, longer = programme.number, _longer(programme, setup)
    waiting_s = max(number("waiting_heating_s"), number("waiting_locations") * number("typical_location_s") * longer)
    if dry_until_s is None:
        return waiting_s
    lone_s = number("lone_heating_s") * longer * _later(programme, setup, dry_until_s)
    return min(waiting_s, lone_s)


def _longer(programme: Programme, setup: Setup) -> float:
    """How much longer this bag takes in this oven than a typical one in a typical one, as far as they are known."""
    number = programme.number
    heavier = (setup.load_g or number("typical_load_g")) / number("typical_load_g")
    stronger = (setup.rated_w or number("typical_rated_w")) / number("typical_rated_w")
    return float(heavier ** number("load_exponent")) / stronger


def _later(programme: Programme, setup: Setup, dry_until_s: float | None) -> float:
    """By what factor the earliest bags open later than they would, once a sensor that failed later has seen this one shut.

    `dry_until_s` is the heating until which it did, None where none has failed. The opening is log-normal, with the median
    and the spread of popping.
    """
    if not dry_until_s:
        return 1.0
    number = programme.number
    known = setup.load_g is not None and setup.rated_w is not None
    log_sd = number("known_location_log_sd" if known else "location_log_sd")
    median_s, share = number("typical_location_s") * _longer(programme, setup), number("blind_done_share")
    opened = _NORMAL.cdf(log(dry_until_s / median_s) / log_sd)
    latest = _NORMAL.inv_cdf(min(opened + share * (1.0 - opened), _ALL))
    return exp(log_sd * (latest - _NORMAL.inv_cdf(share)))
