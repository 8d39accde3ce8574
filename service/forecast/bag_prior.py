"""What is known of one bag before it is heard: when it may pop, how many pops should be heard, and what share that is of all."""

from dataclasses import dataclass
from functools import lru_cache
from math import log

import numpy as np

from service.evidence.pop_grid import PopGrid
from service.evidence.popping import PopPrior
from service.programs.programme import Programme
from service.units import FloatArray

_SHARE_REACH, _SHARE_NODES = 4.0, 81
# As heavy as tails can be while mean and spread still mean what they say.
_DEGREES_OF_FREEDOM = 4.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeardShare:
    """The share of the pops that is heard, by how many will be heard in all: mean logarithm at nodes of that logarithm."""

    log_heard: FloatArray
    log_share: FloatArray

    def at(self, log_heard: FloatArray) -> FloatArray:
        """Mean logarithm of the share, for any array of logarithms of the number that will be heard."""
        log_share: FloatArray = np.interp(log_heard, self.log_heard, self.log_share)
        return log_share


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BagPrior:
    """What is known of one bag beforehand.

    Attributes:
        log_location, location_log_sd: mean and standard deviation of the logarithm of the location.
        pops: the same over the grid, with the number of pops that should be heard.
        log_kernels: logarithm of how many should pop.
        kernels_exponent: power of its time to popping with which the kernels grow; 0 where the mass is known.
        share: share of them that the microphone hears.
    """

    log_location: float
    location_log_sd: float
    pops: PopPrior
    log_kernels: float
    kernels_exponent: float
    share: HeardShare


def log_location_weight(log_location: FloatArray, middle: float, log_sd: float) -> FloatArray:
    """Logarithm of the prior weight of locations: Student's t, since what is said of an oven or a bag may be plain wrong."""
    deviation = (log_location - middle) / log_sd
    weight: FloatArray = -0.5 * (_DEGREES_OF_FREEDOM + 1.0) * np.log1p(deviation * deviation / _DEGREES_OF_FREEDOM)
    return weight


def _log_weight(grid: PopGrid, middle: float, log_sd: float) -> FloatArray:
    """(M, C) logarithm of the prior weight of every location and column."""
    log_weight: FloatArray = log_location_weight(grid.log_location, middle, log_sd)[:, None] + grid.columns.log_prior
    return log_weight


# What is remembered for a bag must not keep the tables of its oven: there may be many ovens.
@lru_cache(maxsize=64)
def bag_prior(programme: Programme, grid: PopGrid, rated_w: float | None, load_g: float | None) -> BagPrior:
    """Prior of a bag of `load_g` in an oven rated `rated_w`, either of which may be unknown, over the programme's grid."""
    number = programme.number
    typical_load_g, typical_rated_w = number("typical_load_g"), number("typical_rated_w")
    heavier = (load_g or typical_load_g) / typical_load_g
    stronger = (rated_w or typical_rated_w) / typical_rated_w
    location_s = number("typical_location_s") * heavier ** number("load_exponent") / stronger
    known = rated_w is not None and load_g is not None
    log_sd = number("known_location_log_sd" if known else "location_log_sd")
    log_location = log(location_s)
    kernels = number("kernels_typical") if load_g is None else number("kernels_per_g") * load_g
    kernels_log_sd = number("kernels_log_sd" if load_g is None else "known_kernels_log_sd")
    heard_share, heard_share_log_sd = number("heard_share"), number("heard_share_log_sd")
    shape = 1.0 / (kernels_log_sd**2 + heard_share_log_sd**2)
    return BagPrior(
        log_location=log_location,
        location_log_sd=log_sd,
        pops=PopPrior(
            log_weight=_log_weight(grid, log_location, log_sd),
            shape=shape,
            rate=shape / (kernels * heard_share),
        ),
        log_kernels=log(kernels),
        kernels_exponent=number("kernels_exponent") if load_g is None else 0.0,
        share=_heard_share(
            log(kernels),
            kernels_log_sd,
            np.array(
                ((log(heard_share), heard_share_log_sd), (log(number("faint_share")), number("faint_share_log_sd")))
            ),
            number("faint_probability"),
        ),
    )


def _heard_share(
    log_kernels: float, kernels_log_sd: float, microphones: FloatArray, faint_probability: float
) -> HeardShare:
    """Kernels and share are log-normal, the share that of a usual or of a faint microphone: what a number heard says of it.

    microphones: (2, 2) mean and standard deviation of the logarithm of the share, of the usual and of the faint one.
    """
    log_heard = log_kernels + np.linspace(-_SHARE_REACH, _SHARE_REACH, _SHARE_NODES)
    middle, log_sd = microphones.T[:, :, None]
    variance = log_sd**2 + kernels_log_sd**2
    log_share = np.minimum(middle + (log_heard - log_kernels - middle) * log_sd**2 / variance, 0.0)
    deviation = log_heard - log_kernels - middle
    weight = np.exp(-0.5 * deviation**2 / variance) / np.sqrt(variance)
    weight *= np.array(((1.0 - faint_probability,), (faint_probability,)))
    return HeardShare(log_heard=log_heard, log_share=(weight * log_share).sum(axis=0) / weight.sum(axis=0))
