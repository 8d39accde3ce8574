"""The tables of a popcorn programme, built once, and what is known of one bag before it is heard."""

from dataclasses import dataclass
from functools import lru_cache
from math import log
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.evidence.acoustic import AcousticNumbers
from service.evidence.moisture import MoistureNumbers
from service.evidence.pop_grid import EdgeTable, PopGrid, edge_table, pop_grid
from service.evidence.pop_times import EDGES_X, STEP, PopTimes, SpreadPrior, pop_times
from service.evidence.popping import PopPrior
from service.evidence.steam import decision_value
from service.forecast.first_silence import SilenceTable, first_cells, silence_table
from service.programs.programme import Programme
from service.units import FloatArray

# Prior weights of a good microphone, and of ever noisier ones.
_CLUTTER_WEIGHTS = (0.5, 0.3, 0.15, 0.05)
_LEAST_SHARE = 1e-6
_NEGLIGIBLE_LOG = -8.0
_SHARE_REACH, _SHARE_NODES = 4.0, 81
# As heavy as tails can be while mean and spread still mean what they say.
_DEGREES_OF_FREEDOM = 4.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Openings:
    """Ways in which a bag can open that carry weight: x = ln(onset / location) with a form, (n,) of them.

    Attributes:
        x: at the edges of the bins of x.
        silence: where the table of silences begins for the form.
        log_weight: logarithm of the prior weight, that of the location left out.
    """

    x: FloatArray
    silence: FloatArray
    log_weight: FloatArray


class Cells(NamedTuple):
    """What cells of the grid of locations and columns stand for, (n,) of them.

    Attributes:
        silence: where the table of silences begins for the form.
        clear: share that is no clutter.
        log_location: logarithm of the location in s.
    """

    silence: FloatArray
    clear: FloatArray
    log_location: FloatArray

    @staticmethod
    def of(grid: PopGrid) -> "Cells":
        """All M * C, the columns changing fastest."""
        columns = grid.columns
        return Cells(
            silence=np.tile(first_cells(columns.form), grid.log_location.size),
            clear=np.tile(1.0 - columns.clutter, grid.log_location.size),
            log_location=np.repeat(grid.log_location, columns.form.size),
        )

    def at(self, first: int, places: NDArray[np.intp]) -> "Cells":
        """Those that lie so many places after the first."""
        return Cells(
            self.silence[first:].take(places, mode="clip"),
            self.clear[first:].take(places, mode="clip"),
            self.log_location[first:].take(places, mode="clip"),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PopcornModel:
    """Tables and numbers of one programme; compared by identity.

    Attributes:
        programme: where the numbers come from.
        acoustic, moisture: numbers of the two kinds of evidence.
        grid: tables of the pop-time posterior.
        cells: what the cells of that grid stand for.
        silence: typical first silences.
        log_opening: log-likelihood of a bag that opens at x = ln(onset / location), for each column of the grid.
        openings: those of them that carry weight.
        disagreement_sd: how far sound and steam may lie apart.
        sound_trust, suspect_trust, suspect_trust_with_steam: power to which the likelihood of the pops is raised, with a usable
            microphone, with one that has failed, and with one that has failed beside a steam that was seen.
        deaf_after_steam_s: a microphone that is silent so long after the onset of steam never heard.
        stop_least_pops, curve_least_pops: fewer pops than this are not yet the sound of a bag; the latter where a humidity
            sensor works.
        steam_latest_sd, popped_when_open: how long after the steam a sound that goes on is believed, and the share of the pops
            that was heard before a bag's own steam at the least.
    """

    programme: Programme
    acoustic: AcousticNumbers
    moisture: MoistureNumbers
    grid: PopGrid
    cells: Cells
    silence: SilenceTable
    log_opening: EdgeTable
    openings: Openings
    disagreement_sd: float
    sound_trust: float
    suspect_trust: float
    suspect_trust_with_steam: float
    deaf_after_steam_s: float
    stop_least_pops: float
    curve_least_pops: float
    steam_latest_sd: float
    popped_when_open: float


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


@lru_cache(maxsize=32)
def popcorn_model(programme: Programme) -> PopcornModel:
    """The tables of a programme. Raises KeyError for a programme that lacks a number."""
    number = programme.number
    low, high = number("clutter_low_share"), number("clutter_high_share")
    forms = _forms(
        SpreadPrior(
            low=number("spread_low"),
            high=number("spread_high"),
            levels=int(number("spread_levels")),
            typical=number("spread_typical"),
            log_sd=number("spread_log_sd"),
            slant=number("slant"),
            slanted_share=number("slanted_share"),
            cold_tailed_share=number("cold_tailed_share"),
        )
    )
    grid = _grid(forms, low, high)
    log_opening = _log_opening(forms, number("opening_score"), number("opening_score_sd"))
    moisture = programme.numbers(MoistureNumbers)
    # Slow the first time, so it is looked up here once before any cook needs it.
    decision_value(moisture)
    return PopcornModel(
        programme=programme,
        acoustic=programme.numbers(AcousticNumbers),
        moisture=moisture,
        grid=grid,
        cells=_cells(grid),
        silence=_silence(forms),
        log_opening=edge_table(log_opening[:, grid.columns.form]),
        openings=_openings(forms, log_opening),
        disagreement_sd=number("disagreement_sd"),
        sound_trust=number("sound_trust"),
        suspect_trust=number("suspect_trust"),
        suspect_trust_with_steam=number("suspect_trust_with_steam"),
        deaf_after_steam_s=number("deaf_after_steam_s"),
        stop_least_pops=number("stop_least_pops"),
        curve_least_pops=number("curve_least_pops"),
        steam_latest_sd=number("steam_latest_sd"),
        popped_when_open=number("popped_when_open"),
    )


@lru_cache(maxsize=4)
def _forms(prior: SpreadPrior) -> PopTimes:
    """Programmes that differ in what they say of an oven share the forms, and with them the table that is slow to build."""
    return pop_times(prior)


@lru_cache(maxsize=16)
def _grid(forms: PopTimes, clutter_low: float, clutter_high: float) -> PopGrid:
    return pop_grid(forms, np.geomspace(clutter_low, clutter_high, len(_CLUTTER_WEIGHTS)), np.array(_CLUTTER_WEIGHTS))


@lru_cache(maxsize=16)
def _cells(grid: PopGrid) -> Cells:
    return Cells.of(grid)


@lru_cache(maxsize=4)
def _silence(forms: PopTimes) -> SilenceTable:
    return silence_table(forms)


def _log_opening(forms: PopTimes, score: float, score_sd: float) -> FloatArray:
    """ln density of x at which a bag opens whose normal score of the share popped has this mean and spread."""
    share = np.clip(forms.cdf, _LEAST_SHARE, 1.0 - _LEAST_SHARE)
    scores = np.vectorize(NormalDist().inv_cdf)(share)
    steepness = np.maximum(np.gradient(scores, STEP, axis=1), _LEAST_SHARE)
    return np.ascontiguousarray((-0.5 * ((scores - score) / score_sd) ** 2 + np.log(steepness)).T)


def _openings(forms: PopTimes, log_opening: FloatArray) -> Openings:
    log_weight = log_opening + forms.log_prior
    log_weight -= log_weight.max()
    # A location prior can lift what is far out, so more is kept than will matter.
    edge, form = (log_weight > _NEGLIGIBLE_LOG).nonzero()
    return Openings(x=EDGES_X[edge], silence=first_cells(form), log_weight=log_weight[edge, form])


def log_location_weight(log_location: FloatArray, middle: float, log_sd: float) -> FloatArray:
    """Logarithm of the prior weight of locations: Student's t, since what is said of an oven or a bag may be plain wrong."""
    deviation = (log_location - middle) / log_sd
    weight: FloatArray = -0.5 * (_DEGREES_OF_FREEDOM + 1.0) * np.log1p(deviation * deviation / _DEGREES_OF_FREEDOM)
    return weight


def _log_weight(grid: PopGrid, middle: float, log_sd: float) -> FloatArray:
    """(M, C) logarithm of the prior weight of every location and column."""
    log_weight: FloatArray = log_location_weight(grid.log_location, middle, log_sd)[:, None] + grid.columns.log_prior
    return log_weight


def bag_prior(model: PopcornModel, rated_w: float | None, load_g: float | None) -> BagPrior:
    """Prior of a bag of `load_g` in an oven rated `rated_w`, either of which may be unknown."""
    return _bag_prior(model.programme, model.grid, rated_w, load_g)


# What is remembered for a bag must not keep the tables of its oven: there may be many ovens.
@lru_cache(maxsize=64)
def _bag_prior(programme: Programme, grid: PopGrid, rated_w: float | None, load_g: float | None) -> BagPrior:
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
