"""How stops may follow the size of the bag where nobody said it: a few fixed times, set for sizes or for no reason seen.

Model. Stops that lie close together are of one setting of a timer; which cook has which setting is not known beforehand.
Either any cook may have any of them, each as likely as the others. Or the settings go with the size, and so with the heating
until steam, which grows with it: between the onsets of one setting and of the next lies a threshold, and a cook with the
logarithm x of its onset has setting c with the probability

    L((t_(c+1) - x) / s) - L((t_c - x) / s),    L the logistic distribution, t the thresholds,

summed over all ascending thresholds on a grid, each equally likely. The times set then lie near a ratio of the usual onsets of
their bags. And stops may follow the size smoothly, as the steam does, only not so closely.

Range. As of service.audit.variants. With more than MOST_SETTINGS none is taken to be set for sizes.

Reference. P. McCullagh (1980), Journal of the Royal Statistical Society B 42:109-142, for the thresholds.
"""

from math import inf, lgamma, log

import numpy as np

from service.audit.evidence_of_fit import ErrorPrior
from service.audit.sizes import size_classes
from service.audit.variants import Variant
from service.programs.programme import Programme
from service.units import FloatArray, IntArray

MOST_SETTINGS = 10
_THRESHOLDS = 41
_BEYOND = 3.0
_TINY = 1e-12


def by_fixed_times(log_s: FloatArray, log_onset: FloatArray, errors: ErrorPrior, numbers: Programme) -> list[Variant]:
    """A few fixed times, of n stops with onsets of steam (NaN where none was seen); none of them where all stops are alike."""
    settings = size_classes(np.exp(log_s), numbers.number("few_times_step"))
    if not settings.any():
        # Only one time is a timer.
        return []
    found = [_for_no_reason(log_s, settings, errors, numbers)]
    seen = np.isfinite(log_onset)
    if 2 * int(seen.sum()) >= seen.size and settings.max() < MOST_SETTINGS:
        found.append(_for_sizes(log_s, log_onset, settings, errors, numbers))
    return found


def by_size_like_steam(log_u_s: FloatArray, log_onset: FloatArray, errors: ErrorPrior, numbers: Programme) -> Variant:
    """The size itself, of which the onset tells, of n stops on the heating clock."""
    return Variant(
        kind="something-else",
        values=log_u_s,
        offsets=log_onset[None],
        design=np.ones((log_u_s.size, 1)),
        prior_mean=np.array([log(numbers.number("steam_ratio"))]),
        prior_sd=np.array([numbers.number("steam_ratio_log_sd")]),
        errors=errors,
        says=lambda _, __: "the size of the bag, which nobody said",
    )


def _for_no_reason(log_s: FloatArray, settings: IntArray, errors: ErrorPrior, numbers: Programme) -> Variant:
    each = _each(settings)
    return Variant(
        kind="something-else",
        values=log_s,
        offsets=np.zeros((1, log_s.size)),
        design=each,
        prior_mean=np.full(each.shape[1], log(numbers.number("timer_typical_s"))),
        prior_sd=np.full(each.shape[1], numbers.number("timer_log_sd")),
        errors=errors,
        says=lambda _, __: "one of a few fixed times",
        log_prior=-log_s.size * log(each.shape[1]),
    )


def _for_sizes(
    log_s: FloatArray, log_onset: FloatArray, settings: IntArray, errors: ErrorPrior, numbers: Programme
) -> Variant:
    number = numbers.number
    each = _each(settings)
    usual = _usual_of_each(log_onset, settings)
    return Variant(
        kind="something-else",
        values=log_s,
        offsets=usual[settings][None],
        design=np.column_stack((np.ones(log_s.size), each)),
        prior_mean=np.concatenate(((log(number("steam_ratio")),), np.zeros(each.shape[1]))),
        prior_sd=np.concatenate(((number("timer_log_sd"),), np.full(each.shape[1], number("class_sd")))),
        errors=errors,
        says=lambda _, __: "one of a few fixed times, by the size of the bag, which nobody said",
        log_prior=log_probability_of_settings(log_onset, settings, number("size_by_steam_log_sd")),
    )


def _each(settings: IntArray) -> FloatArray:
    return np.eye(int(settings.max()) + 1)[settings]


def _usual_of_each(log_onset: FloatArray, settings: IntArray) -> FloatArray:
    """(k,) mean of the logarithms of the onsets of each setting; of all where none was seen."""
    each = np.arange(int(settings.max()) + 1)
    groups = [log_onset[(settings == one) & np.isfinite(log_onset)] for one in each]
    overall = float(np.nanmean(log_onset))
    return np.array([group.mean() if group.size else overall for group in groups])


def log_probability_of_settings(log_onset: FloatArray, settings: IntArray, spread: float) -> float:
    """Logarithm of the probability that (n,) cooks have these settings, from 0 for the shortest time, given their onsets.

    `spread` is the standard deviation of the logarithms of the onsets of bags of one size.
    """
    last = int(settings.max())
    scale = spread * 3.0**0.5 / np.pi
    seen = np.isfinite(log_onset)
    lowest, highest = float(log_onset[seen].min()), float(log_onset[seen].max())
    thresholds = np.linspace(lowest - _BEYOND * spread, highest + _BEYOND * spread, _THRESHOLDS)
    # below[j, i]: that cook i lies below threshold j; a cook without an onset lies anywhere.
    below = 1.0 / (1.0 + np.exp(np.clip((log_onset - thresholds[:, None]) / scale, -500.0, 500.0)))
    log_ways = np.log(np.maximum(below[:, seen & (settings == 0)], _TINY)).sum(axis=1)
    for setting in range(1, last):
        between = below[:, None, seen & (settings == setting)] - below[None, :, seen & (settings == setting)]
        step = np.log(np.maximum(between, _TINY)).sum(axis=2)
        ascending = np.tril(np.ones(step.shape, dtype=bool), -1)
        log_ways = np.logaddexp.reduce(np.where(ascending, step + log_ways, -inf), axis=1)
    log_ways = log_ways + np.log(np.maximum(1.0 - below[:, seen & (settings == last)], _TINY)).sum(axis=1)
    ways = lgamma(_THRESHOLDS + 1) - lgamma(last + 1) - lgamma(_THRESHOLDS - last + 1)
    return float(np.logaddexp.reduce(log_ways)) - ways - int((~seen).sum()) * log(last + 1)
