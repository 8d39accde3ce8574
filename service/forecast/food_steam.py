"""Whether steam is the food's own, where other steam could be taken for it.

Model. Steam is the food's, or another's, as of a pan beside the oven or a door opened onto a humid kitchen, while the food does
not steam yet. Their odds are those beforehand, times what each makes of

* when the steam began: food steams about when such a load in such an oven should, other steam comes at any time;
* how it grew: that of food goes on growing where what blows in comes at once and stays, that of a liquid does now and then; a
  growth that is like food's speaks against other steam no more than none does, for a pan that comes to the boil grows so too.
  Nothing is believed before that shows, unless a pause has made it impossible to tell, or it rises more steeply than what
  blows in, as of a liquid that comes to the boil all at once;
* that no steam has come since: if this is another's, the food has still to steam, and that is ever less likely.

The last makes the odds rise as the cook goes on: steam that is doubted at first is believed once food would have steamed.

Range. Onsets and moments of 1 s to 7200 s on the heating clock.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import exp, log
from statistics import NormalDist

from service.evidence.food_heat import specific_heat_j_g_k
from service.evidence.heat_balance import absorbed_share, time_to_steam_s
from service.forecast.meal_posterior import Steamed
from service.programs.programme import Programme
from service.units import boiling_point_c

_LEAST = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class FoodSteamNumbers:
    """Numbers of a programme for steam that may be another's; the programme's file says what each does."""

    own_odds: float
    other_steam_within_s: float
    steams_share: float
    steams_log_sd: float
    known_steams_log_sd: float
    own_steepness: float
    food_growth: float
    food_growth_sd: float
    liquid_prior: float
    liquid_growth: float
    liquid_growth_sd: float
    other_growth: float
    other_growth_sd: float
    growth_awaited_s: float
    ungrown_odds: float


@lru_cache(maxsize=32)
def food_steam_numbers(programme: Programme) -> FoodSteamNumbers:
    """Those of a programme. Raises KeyError for one that lacks a number."""
    return programme.numbers(FoodSteamNumbers)


def food_odds(
    numbers: FoodSteamNumbers, steams: NormalDist, seen: Steamed, now_u_s: float, *, growth_tells: bool
) -> float:
    """Odds that this steam is the food's own, the logarithm of the time to whose steam is known so well beforehand.

    growth_tells: that it grew, or did not, says something; in the gaps of an oven that heats in pulses it does not.
    """
    log_onset = log(seen.onset_u_s)
    when = steams.pdf(log_onset) / exp(log_onset) * numbers.other_steam_within_s
    tells = seen.growth is not None and growth_tells and not _is_steep(numbers, seen)
    grew = min(_growth_odds(numbers, seen.growth), 1.0) if tells and seen.growth is not None else 1.0
    still_dry = 1.0 - steams.cdf(log(max(now_u_s, 1.0)))
    return numbers.own_odds * when * grew / max(still_dry, _LEAST)


def settles_in_u_s(numbers: FoodSteamNumbers, seen: Steamed, now_u_s: float, odds: float) -> float:
    """Heating seconds until it will have shown whether this steam grows, where it may yet turn out not to be the food's."""
    if seen.growth is not None or _is_steep(numbers, seen) or odds * numbers.ungrown_odds >= 1.0:
        return 0.0
    return max(numbers.growth_awaited_s - (now_u_s - seen.onset_u_s), 0.0)


def _is_steep(numbers: FoodSteamNumbers, seen: Steamed) -> bool:
    return seen.sudden is not None and seen.sudden.steepness >= numbers.own_steepness


def _growth_odds(numbers: FoodSteamNumbers, growth: float) -> float:
    # What grows more than food's usually does, as when a sauce boils up, is not for that any less food's; nor the other way.
    growth = min(max(growth, numbers.other_growth - numbers.other_growth_sd), numbers.food_growth)
    solid = NormalDist(numbers.food_growth, numbers.food_growth_sd).pdf(growth)
    liquid = NormalDist(numbers.liquid_growth, numbers.liquid_growth_sd).pdf(growth)
    other = NormalDist(numbers.other_growth, numbers.other_growth_sd).pdf(growth)
    own = solid + numbers.liquid_prior * (liquid - solid)
    return own / max(other, _LEAST)


@lru_cache(maxsize=256)
def log_time_to_steam(
    programme: Programme, rated_w: float | None, load_g: float | None, altitude_m: float
) -> NormalDist:
    """Logarithm of the heating time (s) after which food steams of which so much is known, None being unknown."""
    number = programme.number
    shares = (number("solid_water_share"), number("solid_protein_share"), number("solid_fat_share"))
    start_c, boils_c = number("blind_start_c"), boiling_point_c(altitude_m)
    grams = load_g or number("typical_load_g")
    absorbed_w = (rated_w or number("typical_rated_w")) * absorbed_share(
        grams, number("power_share"), number("half_load_g")
    )
    heat_j_g_k = specific_heat_j_g_k(*shares, (start_c + boils_c) / 2.0)
    steams_s = number("steams_share") * time_to_steam_s(grams, heat_j_g_k, boils_c - start_c, absorbed_w)
    known = rated_w is not None and load_g is not None
    return NormalDist(log(steams_s), number("known_steams_log_sd" if known else "steams_log_sd"))
