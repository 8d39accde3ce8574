"""What a profile fitted from simulated cooks should hold, in the terms in which it is defined."""

from math import exp, log, sqrt

import numpy as np

from service.calibration.humidity import usual_log_ratio
from service.calibration.trace import CookTrace
from service.forecast.fitted import fitted, typical_steam_clock
from service.readings.heating import HeatingClock
from service.readings.setup import Fitted, OvenProfile
from tests.calibration.labelled import POPCORN, traces_of
from tests.calibration.one_oven import BagCooked
from tests.simulation.popcorn_kinds import Recipe

Range = tuple[float, float]


def true_profile(oven: Recipe, bags: list[BagCooked]) -> dict[str, Range]:
    """The truth by the name of each value, as a range where the simulation has two numbers for it.

    The ratio is that of the typical stop to the true opening of these very bags, as if they were typical ones by the programme
    with this oven's power; the delay is how much later than the opening the vapour begins to rise by the service's own dating;
    the lag is that of the sensor, with or without the volume that mixes before it; the share of power follows from when popping
    was truly densest, or half over. The spread of ten ratios says what the spread is to a quarter.
    """
    clocks = [HeatingClock.of(bag.cook, round(bag.until_s * 1000.0)) for bag in bags]
    logs = [
        log(float(clock.full_power_s(bag.window.typical_s)) / float(clock.full_power_s(bag.opened_s)))
        for clock, bag in zip(clocks, bags, strict=True)
    ]
    shown = traces_of(bags, 0, hand_sd_s=0.0)
    power_share = _power_share(shown, bags)
    programme = fitted(POPCORN, OvenProfile(power_share=Fitted(value=sqrt(power_share[0] * power_share[1]))))
    usual = [
        usual_log_ratio(trace, programme, log(float(trace.clock.full_power_s(bag.opened_s))))
        for trace, bag in zip(shown, bags, strict=True)
    ]
    log_onset, stop = typical_steam_clock(programme)
    typical = float(np.mean(logs)) + stop.log_mean - log_onset - float(np.mean(usual))
    microphone, humidity = oven.microphone, oven.humidity
    return {
        "steam_ratio": _exactly(exp(typical)),
        "steam_ratio_spread": (0.75 * float(np.std(logs, ddof=1)), 1.25 * float(np.std(logs, ddof=1))),
        "sensor_delay_s": _exactly(_delay_s(shown, bags)),
        "sensor_lag_s": (humidity.lag_s, humidity.lag_s + humidity.mixing_s),
        "dead_time_s": _exactly(microphone.dead_time_s),
        "clutter_per_s": _exactly(microphone.clutter_per_s),
        "power_share": power_share,
        "duty_cycle": _exactly(oven.power.cycle_on_share if oven.power.cycle_s > 0.0 else 1.0),
    }


def _exactly(value: float) -> Range:
    return value, value


def _delay_s(shown: list[CookTrace], bags: list[BagCooked]) -> float:
    late_s = [trace.rise_s - bag.opened_s for trace, bag in zip(shown, bags, strict=True) if trace.rise_s is not None]
    return float(np.mean(late_s))


def _power_share(shown: list[CookTrace], bags: list[BagCooked]) -> Range:
    number = POPCORN.number
    logs = []
    for trace, bag in zip(shown, bags, strict=True):
        heavier = (bag.printed_g / number("typical_load_g")) ** number("load_exponent")
        expected_u_s = number("typical_location_s") * heavier * number("typical_rated_w") / bag.rated_w
        moments_s = np.array((bag.window.peak_s, float(np.median(bag.popped_s))))
        logs.append(np.log(expected_u_s / trace.clock.full_power_s(moments_s)))
    low, high = np.sort(np.exp(np.mean(logs, axis=0))).tolist()
    return low, high
