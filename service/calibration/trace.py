"""What one finished cook shows of its oven: small enough to be sent about, made without the other cooks.

Range. Popcorn cooks. Whatever a cook does not show is None.
"""

from dataclasses import dataclass, replace
from math import gcd, log
from statistics import NormalDist

import numpy as np

from service.audit.stop_cues import cook_s_of
from service.calibration.labels import good_stop_s
from service.calibration.numbers import calibration_numbers
from service.calibration.popping_fit import PoppingFit, fit_popping
from service.calibration.rise import rise_log_likelihood
from service.evidence.moisture import MoistureNumbers
from service.evidence.vapour import vapour_g_m3
from service.forecast.outlook import Outlook
from service.forecast.popcorn import popcorn_outlook
from service.forecast.popcorn_model import popcorn_model
from service.outcomes.finished import FinishedCook
from service.programs.heating import heating_clock
from service.programs.programme import Programme
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from service.units import FloatArray, IntArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CookTrace:
    """What one cook shows.

    Attributes:
        oven: the label of its oven; None where it has none.
        clock: its heating clock.
        good_stop_s: when it should have been stopped (s, cook clock).
        rise_s: when the vapour began to rise at the sensor, no delay taken off (s, cook clock).
        rated_w, load_g: what was said of the oven and the bag (W, g).
        log_gap: logarithm of the silence that ends the cook (s on the heating clock).
        opening_s, opening_sd_s: when such a bag opens by the sound, and per unit of the normal score (s, cook clock).
        gaps_ms: gaps between pops; `pops_step_ms` the step in which they are timed.
        quiet_s, strays: how long the microphone listened before any kernel can have popped, and what it took for pops.
        popping: how its pops lie.
        log_power_share: logarithm of how fast it heated, over what the programme expects of the rating and the load.
        on_share: share of a cycle in which the magnetron is on; 1 where it never cycles.
        rise: logarithm of the likelihood of flush times and lags.
    """

    oven: str | None
    clock: HeatingClock
    good_stop_s: float | None
    rise_s: float | None
    rated_w: float | None
    load_g: float | None
    log_gap: float
    opening_s: float | None
    opening_sd_s: float | None
    gaps_ms: IntArray
    pops_step_ms: int
    quiet_s: float
    strays: int
    popping: PoppingFit | None
    log_power_share: float | None
    on_share: float | None
    rise: FloatArray | None


def cook_trace(finished: FinishedCook, programme: Programme) -> CookTrace:
    """Look at one cook, without anything that is known of its oven already (some hundredths of a second)."""
    end_ms = max(finished.end_ms(), round(1000.0 * (good_stop_s(finished) or 0.0)))
    cook = finished.cook.until(end_ms)
    setup = replace(finished.setup, oven=None, load_g=finished.load_g())
    clock = heating_clock(programme, cook, end_ms)
    outlook = popcorn_outlook(programme, setup, cook, clock, 1.0)
    popping = _popping(programme, cook, clock, outlook)
    rise_s = _rise_s(programme, outlook)
    opening_s, opening_sd_s = _opening(programme, clock, popping)
    quiet_s = 0.0 if popping is None else cook_s_of(clock, popping.begins_u_s())
    return CookTrace(
        oven=finished.outcome.oven,
        clock=clock,
        good_stop_s=good_stop_s(finished),
        rise_s=rise_s,
        rated_w=setup.rated_w,
        load_g=setup.load_g,
        log_gap=log((setup.gap_s or programme.number("gap_s")) * clock.on_level()),
        opening_s=opening_s,
        opening_sd_s=opening_sd_s,
        gaps_ms=np.diff(cook.pops_ms),
        pops_step_ms=gcd(*cook.pops_ms.tolist()) if cook.pops_ms.size else 0,
        quiet_s=quiet_s,
        strays=int(cook.pops_ms.searchsorted(quiet_s * 1000.0)),
        popping=popping,
        log_power_share=_log_power_share(programme, finished, popping),
        on_share=_on_share(cook, clock),
        rise=None if rise_s is None else _rise(programme, cook, rise_s),
    )


def _popping(programme: Programme, cook: Cook, clock: HeatingClock, outlook: Outlook) -> PoppingFit | None:
    if outlook.acoustic.status != "usable":
        return None
    forms = popcorn_model(programme).grid.forms
    # Cooling takes the heating clock back a little, so pops may come in another order on it.
    pops_u_s = np.sort(clock.full_power_s(cook.pops_ms / 1000.0))
    until_u_s = max(clock.now_u_s, float(pops_u_s[-1]))
    return fit_popping(forms, pops_u_s, until_u_s, outlook.acoustic.dead_time_s)


def _rise_s(programme: Programme, outlook: Outlook) -> float | None:
    steam = outlook.moisture.steam
    if steam is None or steam.onset_s is None or steam.onset_s <= 0.0:
        return None
    return steam.onset_s + programme.number("sensor_delay_s")


def _opening(
    programme: Programme, clock: HeatingClock, popping: PoppingFit | None
) -> tuple[float | None, float | None]:
    if popping is None:
        return None, None
    normal, score = NormalDist(), programme.number("opening_score")
    sooner, typical, later = (
        cook_s_of(clock, popping.u_s_at_share(normal.cdf(score + shift))) for shift in (-0.5, 0.0, 0.5)
    )
    return typical, max(later - sooner, 0.1)


def _log_power_share(programme: Programme, finished: FinishedCook, popping: PoppingFit | None) -> float | None:
    rated_w, load_g = finished.setup.rated_w, finished.load_g()
    if popping is None or rated_w is None or load_g is None:
        return None
    number = programme.number
    heavier = (load_g / number("typical_load_g")) ** number("load_exponent")
    expected_u_s = number("typical_location_s") * heavier / (rated_w / number("typical_rated_w"))
    return log(expected_u_s / popping.location_u_s)


def _on_share(cook: Cook, clock: HeatingClock) -> float | None:
    if not cook.power_ms.size:
        return None
    rhythm = clock.rhythm
    return 1.0 if rhythm is None else rhythm.on_s / (rhythm.on_s + rhythm.off_s)


def _rise(programme: Programme, cook: Cook, rise_s: float) -> FloatArray | None:
    numbers = programme.numbers(MoistureNumbers)
    vapour = vapour_g_m3(cook.humidity_permille, cook.air_decidegrees, assumed_air_c=numbers.assumed_air_c)
    number = calibration_numbers().number
    return rise_log_likelihood(
        cook.humidity_ms / 1000.0,
        vapour,
        rise_s,
        cook.pops_ms / 1000.0 + numbers.sensor_delay_s,
        (number("rise_trust"), number("rise_noise_g_m3")),
    )
