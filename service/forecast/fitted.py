"""A programme with what is known of one oven in the place of its own numbers.

Model. The profile speaks of the oven as a whole, the programme of its parts:

* the ratio of a good stop to the onset of steam, of a bag that is typical for the programme, says when bags open as this
  oven's sensor sees it: with spread s of the logarithm of pop times, a ratio that is exp(d) times the programme's own is an
  opening earlier by d/s in the normal score of the share popped. The spread of the ratio widens or narrows that score;
* a share of the rated power stretches the heating that the programme expects before popping is densest, which is then
  known more closely than for any oven, and in a weak oven the time in which nothing need have happened yet;
* a rate of clutter is a share of false pops in a typical bag, with some room around it;
* a slow sensor shows the steam of food late, for food lets out more and more of it: a tangent to what a lag makes of a ramp
  comes by up to that lag too late. For food a share of the lag beyond a usual one is therefore so much more delay.

Not used are, since nothing is left for them to do, the lag where the programme listens (a bag lets its steam out at once, what
the dating of the onset leaves of the lag is in a fitted delay, and the rest of its error goes with the bag), and the duty cycle
(it shows in the readings of the power before anything pops or steams, and without such readings it is part of the share of
power).

Range. Believed within the limits that the programme sets (`oven_...`), so that a wrong profile moves a stop by little, and
neither the most heating nor that of a blind cook at all. Of a programme that does not listen only the delay changes: the
rest was learned from popcorn.
"""

from dataclasses import replace
from functools import lru_cache
from math import log, log2, sqrt
from types import MappingProxyType

from service.evidence.pop_grid import CLUTTER_SPAN
from service.forecast.bag_prior import bag_prior
from service.forecast.popcorn_model import popcorn_model
from service.forecast.steam_clock import stop_by_steam
from service.forecast.stop_time import StopTime
from service.programs.programme import Programme
from service.readings.setup import Fitted, OvenProfile

_Numbers = dict[str, tuple[float, Fitted]]
# Whatever a programme of the caller's own says, the tables cannot be built beyond these.
_LEAST_SHARE, _MOST_SHARE = 1e-4, 0.6
_LEAST_SD = 0.05


@lru_cache(maxsize=64)
def fitted(programme: Programme, oven: OvenProfile) -> Programme:
    """The programme for this oven; the same one for the same two, since tables are kept for each."""
    listens = "acoustic" in programme.led_by
    numbers = _delay_numbers(programme, oven) if listens else _food_moisture_numbers(programme, oven)
    if listens:
        numbers |= _sound_numbers(programme, oven) | _power_numbers(programme, oven)
        # How the ratio of a typical bag comes about depends on how long such a bag takes in this oven.
        numbers |= _opening_numbers(_with(programme, numbers), oven)
    return _with(programme, numbers)


def _with(programme: Programme, numbers: _Numbers) -> Programme:
    if not numbers:
        return programme
    changed = {
        key: replace(programme.values[key], value=value, source=_source(known))
        for key, (value, known) in numbers.items()
    }
    return replace(programme, values=MappingProxyType({**programme.values, **changed}))


def typical_steam_clock(programme: Programme) -> tuple[float, StopTime]:
    """Logarithm of the onset of the programme's typical bag (s), and the stop that it foretells by itself."""
    number = programme.number
    model = popcorn_model(programme)
    bag = bag_prior(programme, model.grid, number("typical_rated_w"), number("typical_load_g"))
    log_onset = bag.log_location + number("spread_typical") * number("opening_score")
    return log_onset, stop_by_steam(model, bag, log_onset, log(number("gap_s")))


def _source(known: Fitted) -> str:
    return "said of this oven" if known.cooks is None else f"fitted to this oven from {known.cooks} cooks"


def _delay_numbers(programme: Programme, oven: OvenProfile) -> _Numbers:
    delay = oven.sensor_delay_s
    if delay is None:
        return {}
    return {"sensor_delay_s": (min(delay.value, programme.number("oven_delay_most_s")), delay)}


def _food_moisture_numbers(programme: Programme, oven: OvenProfile) -> _Numbers:
    numbers, lag, number = _delay_numbers(programme, oven), oven.sensor_lag_s, programme.number
    if lag is None:
        return numbers
    slower_s = min(lag.value, number("oven_lag_most_s")) - number("oven_lag_typical_s")
    if slower_s <= 0.0:
        # A sensor that seems quicker than usual is left as it is: nothing was gained by dating its steam later.
        return numbers
    delay_s, known = numbers.get("sensor_delay_s", (number("sensor_delay_s"), lag))
    return {"sensor_delay_s": (delay_s + number("oven_lag_share") * slower_s, known)}


def _opening_numbers(programme: Programme, oven: OvenProfile) -> _Numbers:
    if oven.steam_ratio is None and oven.steam_ratio_spread is None:
        return {}
    number = programme.number
    log_onset, stop = typical_steam_clock(programme)
    score, score_sd, spread = number("opening_score"), number("opening_score_sd"), number("spread_typical")
    numbers: _Numbers = {}
    if oven.steam_ratio is not None:
        most = log(number("oven_ratio_most"))
        longer = min(max(log(oven.steam_ratio.value) - (stop.log_mean - log_onset), -most), most)
        numbers["opening_score"] = (score - longer / spread, oven.steam_ratio)
    if oven.steam_ratio_spread is not None:
        # What the opening does not explain of the programme's own spread stays as it is.
        variance = score_sd**2 + (oven.steam_ratio_spread.value**2 - stop.log_sd**2) / spread**2
        least, most = number("oven_opening_sd_least"), number("oven_opening_sd_most")
        score_sd = max(min(max(sqrt(max(variance, 0.0)), least), most), _LEAST_SD)
        numbers["opening_score_sd"] = (score_sd, oven.steam_ratio_spread)
    return numbers


def _sound_numbers(programme: Programme, oven: OvenProfile) -> _Numbers:
    number = programme.number
    numbers: _Numbers = {}
    if oven.dead_time_s is not None:
        dead_time_s = min(oven.dead_time_s.value, number("oven_dead_time_most_s"))
        numbers["dead_time_s"] = (dead_time_s, oven.dead_time_s)
        numbers["dead_time_most_s"] = (max(number("dead_time_most_s"), dead_time_s), oven.dead_time_s)
    if oven.clutter_per_s is not None:
        heard = number("kernels_typical") * number("heard_share")
        false_pops = oven.clutter_per_s.value * CLUTTER_SPAN * number("typical_location_s")
        least, most = number("oven_clutter_least_share"), number("oven_clutter_most_share")
        share = min(max(false_pops / (false_pops + heard), least, _LEAST_SHARE), most)
        # In steps of half an octave, which is closer than it can be known, so that ovens share the tables for it.
        low = 2.0 ** (round(2.0 * log2(share)) / 2.0) / sqrt(2.0)
        numbers["clutter_low_share"] = (low, oven.clutter_per_s)
        numbers["clutter_high_share"] = (min(low * number("oven_clutter_room"), _MOST_SHARE), oven.clutter_per_s)
    return numbers


def _power_numbers(programme: Programme, oven: OvenProfile) -> _Numbers:
    if oven.power_share is None:
        return {}
    number = programme.number
    least, most = number("oven_power_share_least"), number("oven_power_share_most")
    share = min(max(oven.power_share.value, least), most)
    # A weak oven's silence is no failure yet; a strong one's is left as long as any's.
    waiting_s = min(number("waiting_heating_s") / min(share, 1.0), number("oven_waiting_most_s"))
    return {
        "typical_location_s": (number("typical_location_s") / share, oven.power_share),
        "known_location_log_sd": (number("oven_location_log_sd"), oven.power_share),
        "waiting_heating_s": (waiting_s, oven.power_share),
    }
