"""What the opening of the bag foretells by itself.

Model. A bag may open at any x = ln(onset / location) of any form, with the weights of
service.forecast.popcorn_model.Openings; each implies a location, which a bag like this one is more or less likely to
have, and so a typical first silence. Their mean and spread are those of the stop.

Both change so smoothly with the onset that they are worked out at nodes, and a cubic through the four nearest is within
a millisecond. A cook keeps to a few nodes, which are remembered.

Range. Onsets of 1 s to 7200 s on the heating clock.
"""

from functools import lru_cache
from math import floor

import numpy as np

from service.forecast.bag_prior import BagPrior, log_location_weight
from service.forecast.first_silence import SilenceTable, log_typical_stop
from service.forecast.popcorn_model import Openings, PopcornModel
from service.forecast.stop_time import StopTime, stop_times

_APART = 0.02


def stop_by_steam(model: PopcornModel, bag: BagPrior, log_onset: float, log_gap: float) -> StopTime:
    """The stop for an onset of steam and a silence that ends the cook: logarithms of seconds on the heating clock."""
    node = floor(log_onset / _APART)
    t = log_onset / _APART - node
    known = (bag.log_location, bag.location_log_sd, bag.log_kernels, bag.kernels_exponent)
    mean, sd = zip(*_around_node(model.silence, model.openings, known, log_gap, node), strict=True)
    before = t * (t - 1.0) * (2.0 - t) / 6.0
    here = (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0
    after = (t + 1.0) * t * (2.0 - t) / 2.0
    beyond = (t + 1.0) * t * (t - 1.0) / 6.0
    return StopTime(
        log_mean=before * mean[0] + here * mean[1] + after * mean[2] + beyond * mean[3],
        log_sd=max(before * sd[0] + here * sd[1] + after * sd[2] + beyond * sd[3], 0.0),
    )


@lru_cache(maxsize=4096)
def _around_node(
    silence: SilenceTable, openings: Openings, known: tuple[float, float, float, float], log_gap: float, node: int
) -> tuple[tuple[float, float], ...]:
    """What `_at_node` says of a node, of the one before it and of the two after it."""
    return tuple(_at_node(silence, openings, known, log_gap, node + step) for step in (-1, 0, 1, 2))


@lru_cache(maxsize=4096)
def _at_node(
    silence: SilenceTable, openings: Openings, known: tuple[float, float, float, float], log_gap: float, node: int
) -> tuple[float, float]:
    """Mean and standard deviation of the logarithm of the stop, for the onset of a node.

    `known` of the bag are the middle and the spread of its log location, its log kernels and their exponent: small, since it
    is remembered.
    """
    middle, log_sd, log_kernels, exponent = known
    log_location = node * _APART - openings.x
    log_weight = openings.log_weight + log_location_weight(log_location, middle, log_sd)
    kernels = log_kernels + exponent * (log_location - middle)
    log_stop = log_typical_stop(silence, openings.silence, kernels, log_location, log_gap)
    (stop,) = stop_times(log_stop, np.exp(log_weight - log_weight.max())[None])
    return stop.log_mean, stop.log_sd
