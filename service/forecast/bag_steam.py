"""Whether steam is the bag's own, where no popping was heard beside it.

Model. Steam without popping has two accounts: the bag has opened and nobody hears it, or the steam is another's, as of a pan
beside the oven, a door opened onto a humid kitchen or walls still wet, and the bag does not pop yet. Their odds are those
beforehand, times what each makes of

* when the steam began: a bag opens when the corn of such a bag in such an oven pops, other steam comes at any time;
* how far the vapour rose: log-normal, and higher for a bag than for what reaches the exhaust from elsewhere;
* whether it lasts: what has boiled over or blown in may be gone again, where an open bag goes on steaming;
* that no popping was heard until now: certain if nobody hears it, ever less likely if the bag only does not pop yet.

The last makes the odds rise as the cook goes on: steam that is doubted at first is believed once a bag would have popped.

Range. Onsets and moments of 1 s to 7200 s on the heating clock.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import exp, hypot, log
from statistics import NormalDist

from service.evidence.steam import SteamOnset
from service.forecast.bag_prior import BagPrior
from service.programs.programme import Programme
from service.readings.heating import HeatingClock

_NORMAL = NormalDist()
_LEAST = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class BagSteamNumbers:
    """Numbers of a programme for steam beside which no popping was heard; the programme's file says what each does."""

    unheard_odds: float
    unlistened_odds: float
    other_steam_within_s: float
    bag_steam_g_m3: float
    bag_steam_log_sd: float
    other_steam_g_m3: float
    other_steam_log_sd: float
    fallen_odds: float
    first_pop_score: float
    spread_typical: float
    opening_score: float
    opening_score_sd: float


@lru_cache(maxsize=32)
def bag_steam_numbers(programme: Programme) -> BagSteamNumbers:
    """Those of a programme. Raises KeyError for one that lacks a number."""
    return programme.numbers(BagSteamNumbers)


def own_odds(
    numbers: BagSteamNumbers, bag: BagPrior, clock: HeatingClock, steam: SteamOnset, *, listens: bool
) -> float:
    """Odds that this steam is the bag's own; none for steam that did not begin.

    `listens`: there may be a microphone. Of one that is not there no silence tells anything.
    """
    if steam.onset_s is None or steam.rise_g_m3 is None:
        return 0.0
    log_onset = log(max(clock.full_power_s(steam.onset_s), 1.0))
    opens = NormalDist(
        bag.log_location + numbers.opening_score * numbers.spread_typical,
        hypot(bag.location_log_sd, numbers.opening_score_sd * numbers.spread_typical),
    )
    when = opens.pdf(log_onset) / exp(log_onset) * numbers.other_steam_within_s
    # What rises higher than a bag's steam typically does is not for that any less a bag's.
    log_rise = log(min(max(steam.rise_g_m3, _LEAST), numbers.bag_steam_g_m3))
    how_far = NormalDist(log(numbers.bag_steam_g_m3), numbers.bag_steam_log_sd).pdf(log_rise) / max(
        NormalDist(log(numbers.other_steam_g_m3), numbers.other_steam_log_sd).pdf(log_rise), _LEAST
    )
    seen = when * how_far * (numbers.fallen_odds if steam.has_fallen else 1.0)
    if not listens:
        return numbers.unlistened_odds * seen
    first_pop = bag.log_location + numbers.first_pop_score * numbers.spread_typical
    still_shut = 1.0 - _NORMAL.cdf((log(max(clock.now_u_s, 1.0)) - first_pop) / bag.location_log_sd)
    return numbers.unheard_odds * seen / max(still_shut, _LEAST)
