"""What the cooks say of the steam and of the humidity sensor: delay, lag, and the ratio of stop to onset.

Model. The delay is how much later the vapour begins to rise at the sensor than such a bag opens by its sound. By the
programme a bag opens at a certain normal score of the share popped, give or take; all bags of a set may share some of that,
which more cooks do not average out. The lag comes from the shape of the rise (service.calibration.rise). The ratio is that
of a good stop to the onset dated with the fitted delay, both on the heating clock; its default is the programme's own.

Range. The delay is an effective one: with a slow sensor it holds the part of the lag that the dating leaves.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import log, sqrt

import numpy as np

from service.calibration.numbers import calibration_numbers
from service.calibration.pooling import Before, Pooled, fitted_on_grid, log_normal_grid, pool
from service.calibration.rise import FLUSHES_S, LAGS_S
from service.calibration.trace import CookTrace
from service.forecast.bag_prior import bag_prior
from service.forecast.fitted import typical_steam_clock
from service.forecast.popcorn_model import popcorn_model
from service.forecast.steam_clock import stop_by_steam
from service.programs.programme import Programme
from service.readings.setup import Fitted
from service.units import FloatArray

_HARDLY = 1e-300


def fitted_delay_s(traces: Sequence[CookTrace], programme: Programme, level: float) -> Fitted | str:
    """Delay from the bag to the sensor (s), or what is missing."""
    number = calibration_numbers().number
    late_s, scale_s = [], []
    for trace in traces:
        if trace.rise_s is not None and trace.opening_s is not None and trace.opening_sd_s is not None:
            late_s.append(trace.rise_s - trace.opening_s)
            scale_s.append(trace.opening_sd_s)
    if len(late_s) < number("least_cooks"):
        return f"{number('least_cooks'):.0f} cooks in which both steam and popping showed; there are {len(late_s)}"
    scales = np.array(scale_s)
    weights = 1.0 / (scales * programme.number("opening_score_sd")) ** 2
    mean_s = float(weights @ np.array(late_s)) / float(weights.sum())
    shared_s = number("opening_shared_sd") * float(weights @ scales) / float(weights.sum())
    error_s = sqrt(1.0 / float(weights.sum()) + shared_s**2)
    values, log_weight = log_normal_grid(programme.number("sensor_delay_s"), number("sensor_delay_log_sd"))
    return fitted_on_grid(values, log_weight - 0.5 * ((mean_s - values) / error_s) ** 2, len(late_s), level)


def fitted_lag_s(rises: Sequence[FloatArray], level: float) -> Fitted | str:
    """First-order lag of the sensor (s), or what is missing; `rises` are the tables of service.calibration.rise."""
    number = calibration_numbers().number
    if len(rises) < number("least_cooks"):
        return (
            f"{number('least_cooks'):.0f} cooks with a rise of vapour that is not cut off by saturation;"
            f" there are {len(rises)}"
        )
    flush = -0.5 * (np.log(FLUSHES_S / number("cavity_flush_s")) / number("cavity_flush_log_sd")) ** 2
    lag = -0.5 * (np.log(LAGS_S / number("sensor_lag_s")) / number("sensor_lag_log_sd")) ** 2
    log_weight = np.sum(rises, axis=0) + flush[:, None] + lag
    over_flushes = np.exp(log_weight - log_weight.max()).sum(axis=0)
    apart = np.log(LAGS_S[:, None] / LAGS_S) / number("sensor_lag_model_log_sd")
    blurred = np.exp(-0.5 * apart**2) @ over_flushes
    return fitted_on_grid(LAGS_S, np.log(blurred + _HARDLY), len(rises), level)


def pooled_log_ratios(traces: Sequence[CookTrace], programme: Programme) -> tuple[Pooled, Pooled] | str:
    """Logarithm of good stop over onset, of the programme's typical bag and over the programme's own; or what is missing.

    `programme` has the delay and the share of power of this oven in it already, since those move what it expects: each cook's
    ratio is held against what it would use for such a bag.
    """
    number = calibration_numbers().number
    ratios, defaults = [], []
    for trace in traces:
        if trace.good_stop_s is not None and trace.rise_s is not None:
            onset_s = max(trace.rise_s - programme.number("sensor_delay_s"), 0.0)
            onset_u_s = max(float(trace.clock.full_power_s(onset_s)), 1.0)
            stop_u_s = float(trace.clock.full_power_s(trace.good_stop_s))
            if stop_u_s > onset_u_s:
                ratios.append(log(stop_u_s / onset_u_s))
                defaults.append(usual_log_ratio(trace, programme, log(onset_u_s)))
    if len(ratios) < number("least_cooks"):
        return (
            f"{number('least_cooks'):.0f} cooks with both an onset of steam and a good stop after it (named, made by a"
            f" person, or shown by counts of kernels left and pieces scorched); there are {len(ratios)}"
        )
    log_onset, stop = typical_steam_clock(programme)
    typical = stop.log_mean - log_onset
    beyond = pool(
        np.array(ratios) - np.array(defaults),
        Before(
            default=0.0,
            between_sd=number("steam_ratio_between_log_sd"),
            within_sd=number("steam_ratio_within_log_sd"),
            weight=number("steam_ratio_within_weight"),
        ),
    )
    return replace(beyond, mean=beyond.mean + typical), beyond


def usual_log_ratio(trace: CookTrace, programme: Programme, log_onset: float) -> float:
    """Logarithm of the ratio that the programme would use by itself for this bag (onset in s on the heating clock)."""
    model = popcorn_model(programme)
    bag = bag_prior(programme, model.grid, trace.rated_w, trace.load_g)
    return stop_by_steam(model, bag, log_onset, trace.log_gap).log_mean - log_onset
