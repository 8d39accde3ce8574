"""The profile of one oven from its finished cooks, in two steps: each cook by itself, then all together.

What the cooks cannot support is refused, naming what is missing; everything else is drawn towards the programme's default.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.calibration.humidity import fitted_delay_s, fitted_lag_s, pooled_log_ratios
from service.calibration.microphone import fitted_clutter_per_s, fitted_dead_time_s
from service.calibration.numbers import calibration_numbers
from service.calibration.power import fitted_duty_cycle, fitted_power_share
from service.calibration.trace import CookTrace
from service.forecast.fitted import fitted
from service.programs.programme import Programme
from service.readings.setup import Fitted, OvenProfile


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """A value of the profile that was not fitted, and what it takes."""

    value: str
    needs: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Goodness:
    """How well the popping of the cooks fits, by time-rescaled residuals.

    Attributes:
        cooks: in how many the popping was heard.
        within_bound: how many of them stay within a bound that 95 of 100 would keep if the model were exactly right.
        worst: the largest distance over its bound (1).
        fits: enough of them do.
    """

    cooks: int
    within_bound: int
    worst: float
    fits: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """What came of it.

    Attributes:
        profile: what was fitted.
        refusals: what was not.
        ratio_over_programme: the oven's ratio of stop to onset over the one that the programme would use for the same bags,
            rating and load (1); None where the ratio was refused.
        goodness: of the popping; None where none was heard.
        cooks, ovens: how many were looked at, and the labels of their ovens: more than one is a mistake of whoever asked.
        level: how much probability the intervals hold.
    """

    profile: OvenProfile
    refusals: tuple[Refusal, ...]
    ratio_over_programme: Fitted | None
    goodness: Goodness | None
    cooks: int
    ovens: tuple[str, ...]
    level: float


def calibrate(traces: Sequence[CookTrace], programme: Programme) -> Calibration:
    """Fit the profile of the oven that all these cooks were made in."""
    level = calibration_numbers().number("interval_level")
    delay = fitted_delay_s(traces, programme, level)
    share = fitted_power_share(traces, level)
    known = {"sensor_delay_s": delay, "power_share": share}
    ratios = pooled_log_ratios(traces, fitted(programme, _profile(known)))
    found: Mapping[str, Fitted | str] = {
        "steam_ratio": ratios if isinstance(ratios, str) else ratios[0].value(level),
        "steam_ratio_spread": ratios if isinstance(ratios, str) else ratios[0].spread_of_next(level),
        "sensor_delay_s": delay,
        "sensor_lag_s": fitted_lag_s([trace.rise for trace in traces if trace.rise is not None], level),
        "dead_time_s": fitted_dead_time_s(traces, programme, level),
        "clutter_per_s": fitted_clutter_per_s(traces, level),
        "power_share": share,
        "duty_cycle": fitted_duty_cycle(traces, level),
    }
    return Calibration(
        profile=_profile(found),
        refusals=tuple(Refusal(value=name, needs=value) for name, value in found.items() if isinstance(value, str)),
        ratio_over_programme=None if isinstance(ratios, str) else ratios[1].value(level),
        goodness=_goodness(traces),
        cooks=len(traces),
        ovens=tuple(sorted({trace.oven for trace in traces if trace.oven is not None})),
        level=level,
    )


def _profile(found: Mapping[str, Fitted | str]) -> OvenProfile:
    return OvenProfile(**{name: value for name, value in found.items() if not isinstance(value, str)})


def _goodness(traces: Sequence[CookTrace]) -> Goodness | None:
    over_bound = [trace.popping.distance / trace.popping.bound for trace in traces if trace.popping is not None]
    if not over_bound:
        return None
    within = sum(distance < 1.0 for distance in over_bound)
    return Goodness(
        cooks=len(over_bound),
        within_bound=within,
        worst=max(over_bound),
        fits=within >= calibration_numbers().number("fitting_share") * len(over_bound),
    )
