"""When food that is led by its steam alone is done: the meals that could have steamed so, and when their cores are hot.

Model. Steam begins when the edge of the food boils, its core being colder. Which meals fit the time to steam, the way in which
the steam came and what is known of oven and load is told by service.forecast.meal_posterior; each of them has a ratio of the
time at which its core is hot enough to the time to steam. The stop is where so many of them, by weight, are hot as the
programme wants to be confident. What water boils at follows the height of the site.

A programme whose cook ends at the first moisture needs none of this: its stop is the onset.

Sound is left out of account.

Range. Onsets of 1 s to 7200 s on the heating clock; heights to 6,000 m.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import exp, log, sqrt
from typing import NamedTuple

from service.evidence.acoustic import Acoustic
from service.evidence.first_steam import FirstSteamNumbers, decision_value
from service.evidence.food_moisture import FoodMoisture, FoodMoistureNumbers, food_moisture
from service.evidence.heat_balance import absorbed_share
from service.evidence.steam_growth import GrowthNumbers, SteamGrowth
from service.evidence.sudden_steam import SuddenSteam
from service.forecast.food_steam import food_odds, food_steam_numbers, log_time_to_steam, settles_in_u_s
from service.forecast.meal_posterior import MealPosterior, PriorNumbers, Steamed, meal_posterior
from service.forecast.meals import Meals, meals_of
from service.forecast.outlook import Food, Outlook
from service.forecast.stop_time import StopTime
from service.programs.programme import Programme
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from service.readings.setup import Setup
from service.units import boiling_point_c

Inferred = dict[str, "float | dict[str, float] | None"]
NOT_LISTENED_FOR: Inferred = dict.fromkeys(("rate_per_s", "silence_s", "dead_time_s", "kernels_left"))
_ALTITUDE_STEP_M = 50.0
# Food that must come so close to boiling, or beyond, is never known to have come there.
_SHORT_OF_BOILING_K = 1.0
_MOST_OTHERS = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Model:
    """The numbers of one programme, put where they are used; no prior, core or confidence where the first moisture ends it."""

    moisture: FoodMoistureNumbers
    prior: PriorNumbers | None
    core_c: float
    confidence: float
    nudge_share: float


def reheat_outlook(programme: Programme, setup: Setup, cook: Cook, clock: HeatingClock, reach_sd: float) -> Outlook:
    """Evidence and forecast from `cook`, which holds nothing later than the clock's `as_of_s`.

    `reach_sd` is half the width of the wanted central interval, in standard deviations of a normal.
    """
    model = _model(programme)
    seen, steamed, settles_s = _own_steam(programme, model, setup, cook, clock)
    onset_u_s = None if steamed is None else steamed.onset_u_s
    stop, inferred = None, dict(_NOTHING_INFERRED)
    if steamed is not None:
        stop, inferred = _foretold(programme, model, setup, steamed, reach_sd)
    return Outlook(
        acoustic=unheard(cook),
        moisture=seen.moisture,
        stop=stop,
        by_sound=None,
        by_steam=stop,
        led_by=None if stop is None else "steam",
        disagree=False,
        inferred={
            "acoustic": NOT_LISTENED_FOR,
            "moisture": _told_growth(seen.growth) | _told_sudden(seen.sudden) | inferred,
            "heating": {"heat_in_kj": _heat_in_kj(programme, setup, clock)},
        },
        food=Food(
            core_c=None if model.prior is None else _core_c(model, setup),
            steaming_s=None if onset_u_s is None else clock.now_u_s - onset_u_s,
            nudge_share=model.nudge_share,
            settles_in_s=settles_s,
            sound_ignored=bool(cook.pops_ms.size) or "acoustic" in (setup.sensors or ()),
        ),
    )


class _Own(NamedTuple):
    """The vapour; the first steam that is more probably the food's than another's, None where none is; and for how many heating
    seconds yet that may turn out otherwise."""

    seen: FoodMoisture
    steamed: Steamed | None
    settles_in_u_s: float


def _own_steam(programme: Programme, model: _Model, setup: Setup, cook: Cook, clock: HeatingClock) -> _Own:
    seen = first = food_moisture(cook, clock, model.moisture)
    numbers = food_steam_numbers(programme)
    steams = log_time_to_steam(programme, setup.rated_w, setup.load_g, _altitude_m(setup))
    growth_tells = clock.rhythm is None
    for _ in range(_MOST_OTHERS):
        steamed = _steamed(seen, setup, clock)
        if steamed is None or model.prior is None:
            return _Own(first if steamed is None else seen, steamed, 0.0)
        odds = food_odds(numbers, steams, steamed, clock.now_u_s, growth_tells=growth_tells)
        if odds >= 1.0:
            settles = settles_in_u_s(numbers, steamed, clock.now_u_s, odds) if growth_tells else 0.0
            return _Own(seen, steamed, settles)
        steam = seen.moisture.steam
        if steamed.growth is None or steam is None or steam.alarm_s is None:
            break
        seen = food_moisture(cook, clock, model.moisture, steam.alarm_s + model.moisture.growth.growth_late_s)
    return _Own(first, None, 0.0)


def _steamed(seen: FoodMoisture, setup: Setup, clock: HeatingClock) -> Steamed | None:
    steam = seen.moisture.steam
    if steam is None or steam.onset_s is None:
        return None
    onset_u_s = max(clock.full_power_s(steam.onset_s), 1.0)
    return Steamed(
        onset_u_s=onset_u_s,
        level=min(max(onset_u_s / max(steam.onset_s, 1.0), 0.05), 1.0),
        sudden=seen.sudden,
        growth=None if seen.growth is None else seen.growth.growth,
        rated_w=setup.rated_w,
        load_g=setup.load_g,
    )


def _altitude_m(setup: Setup) -> float:
    """The height of the site in steps, so that what is worked out for one is remembered."""
    return round((setup.site_altitude_m or 0.0) / _ALTITUDE_STEP_M) * _ALTITUDE_STEP_M


def _heat_in_kj(programme: Programme, setup: Setup, clock: HeatingClock) -> float | None:
    """Heat that the load has taken up so far; None where nobody told what the oven is rated at."""
    if setup.rated_w is None:
        return None
    number = programme.number
    load_g = setup.load_g or number("typical_load_g")
    absorbed_w = setup.rated_w * absorbed_share(load_g, number("power_share"), number("half_load_g"))
    return absorbed_w * clock.now_u_s / 1000.0


def unheard(cook: Cook) -> Acoustic:
    """What a programme that does not listen says of the sound: how many pops came, and nothing else."""
    return Acoustic(
        status="absent",
        pops=int(cook.pops_ms.size),
        rate_per_s=0.0,
        silence_s=0.0,
        listened_until_s=0.0,
        dead_time_s=0.0,
        likelihood=None,
    )


def _foretold(
    programme: Programme, model: _Model, setup: Setup, steamed: Steamed, reach_sd: float
) -> tuple[StopTime | None, Inferred]:
    """The stop, and what the food probably is; no stop where no steam can tell that the core is so hot."""
    if model.prior is None:
        return StopTime(log_mean=log(steamed.onset_u_s), log_sd=0.0), dict(_NOTHING_INFERRED)
    boils_c = boiling_point_c(_altitude_m(setup))
    core_c = _core_c(model, setup)
    if core_c > boils_c - _SHORT_OF_BOILING_K:
        return None, dict(_NOTHING_INFERRED)
    meals = meals_of(programme, boils_c, core_c)
    posterior = meal_posterior(meals, model.prior, steamed)
    return _stop(meals, posterior, steamed, model.confidence), _told_food(meals, posterior, reach_sd)


def _core_c(model: _Model, setup: Setup) -> float:
    """What the coldest part must reach: the programme's own, or more where the caller asks for more."""
    return max(model.core_c, setup.safe_core_c or 0.0)


def _stop(meals: Meals, posterior: MealPosterior, steamed: Steamed, confidence: float) -> StopTime:
    """The first moment at which so much of the weight is hot; its spread is that of the moments at which the meals are.

    Nothing is interpolated: between two meals that change places it would bring the stop of a hotter core forward.
    """
    first = int(posterior.weight.cumsum().searchsorted(confidence))
    log_ratio = float(meals.log_ratio[min(first, meals.log_ratio.size - 1)])
    mean = float(posterior.weight.dot(meals.log_ratio))
    spread = sqrt(float(posterior.weight.dot((meals.log_ratio - mean) ** 2)))
    return StopTime(log_mean=log(steamed.onset_u_s) + log_ratio, log_sd=spread)


def _told_food(meals: Meals, posterior: MealPosterior, reach_sd: float) -> Inferred:
    """Ranges of what the food could be: the mass as a log-normal, the start as the middle of the weighted meals."""
    start_c = float(posterior.weight.dot(meals.start_c))
    reach_k = reach_sd * sqrt(float(posterior.weight.dot((meals.start_c - start_c) ** 2)))
    load_g, factor = exp(posterior.log_load), exp(reach_sd * posterior.log_load_sd)
    return {
        "load_g": {"estimate": load_g, "low": load_g / factor, "high": load_g * factor},
        "start_c": {
            "estimate": start_c,
            "low": max(start_c - reach_k, float(meals.start_c.min())),
            "high": min(start_c + reach_k, float(meals.start_c.max())),
        },
        "liquid_share": posterior.liquid_share,
    }


_NOTHING_INFERRED: Inferred = dict.fromkeys(("load_g", "start_c", "liquid_share"))


def _told_growth(growth: SteamGrowth | None) -> Inferred:
    if growth is None:
        return dict.fromkeys(("growth", "released_g_s_m3", "vigour"))
    return {"growth": growth.growth, "released_g_s_m3": growth.released_g_s_m3, "vigour": growth.vigour}


def _told_sudden(sudden: SuddenSteam | None) -> Inferred:
    return dict.fromkeys(SuddenSteam._fields) if sudden is None else dict(sudden._asdict())


@lru_cache(maxsize=32)
def _model(programme: Programme) -> _Model:
    number = programme.number
    at_once = number("ends_at_first_moisture") > 0.0
    first = programme.numbers(FirstSteamNumbers)
    # Slow the first time, so they are worked out here once before any cook needs them.
    decision_value(first)
    if not at_once:
        meals_of(programme, boiling_point_c(0.0), number("safe_core_c"))
    return _Model(
        moisture=FoodMoistureNumbers(
            first=first,
            growth=programme.numbers(GrowthNumbers),
            assumed_air_c=number("assumed_air_c"),
            stuck_s=number("stuck_s"),
            quiet_s=first.quiet_s,
            spike_g_m3=number("spike_g_m3"),
        ),
        prior=None if at_once else programme.numbers(PriorNumbers),
        core_c=0.0 if at_once else number("safe_core_c"),
        confidence=0.0 if at_once else number("core_confidence"),
        nudge_share=number("nudge_share"),
    )
