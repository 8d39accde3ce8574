"""The tables of a popcorn programme, built once."""

from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.evidence.acoustic import AcousticNumbers
from service.evidence.moisture import MoistureNumbers
from service.evidence.pop_grid import EdgeTable, PopGrid, edge_table, pop_grid
from service.evidence.pop_times import EDGES_X, STEP, PopTimes, SpreadPrior, pop_times
from service.evidence.steam import decision_value
from service.forecast.first_silence import SilenceTable, first_cells, silence_table
from service.programs.programme import Programme
from service.units import FloatArray

# Prior weights of a good microphone, and of ever noisier ones.
_CLUTTER_WEIGHTS = (0.5, 0.3, 0.15, 0.05)
_LEAST_SHARE = 1e-6
_NEGLIGIBLE_LOG = -8.0


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
        log_unopened: that of one whose steam has not been seen by then.
        openings: those of them that carry weight.
        disagreement_sd: how far sound and steam may lie apart.
        sound_trust, suspect_trust, suspect_trust_with_steam: power to which the likelihood of the pops is raised, with a usable
            microphone, with one that has failed, and with one that has failed beside a steam that was seen.
        unopened_lag_s: how long after a bag has opened its steam may yet be unseen.
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
    log_unopened: EdgeTable
    openings: Openings
    disagreement_sd: float
    sound_trust: float
    suspect_trust: float
    suspect_trust_with_steam: float
    unopened_lag_s: float
    deaf_after_steam_s: float
    stop_least_pops: float
    curve_least_pops: float
    steam_latest_sd: float
    popped_when_open: float


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
    score, score_sd = number("opening_score"), number("opening_score_sd")
    log_opening = _log_opening(forms, score, score_sd)
    log_unopened = _log_unopened(forms, score, score_sd, number("unseen_share"))
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
        log_unopened=edge_table(log_unopened[:, grid.columns.form]),
        openings=_openings(forms, log_opening),
        disagreement_sd=number("disagreement_sd"),
        sound_trust=number("sound_trust"),
        suspect_trust=number("suspect_trust"),
        suspect_trust_with_steam=number("suspect_trust_with_steam"),
        unopened_lag_s=number("unopened_lag_s"),
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


def _scores(forms: PopTimes) -> FloatArray:
    """(K, BINS + 1) normal score of the share popped, at the edges of the bins of x."""
    share = np.clip(forms.cdf, _LEAST_SHARE, 1.0 - _LEAST_SHARE)
    scores: FloatArray = np.vectorize(NormalDist().inv_cdf)(share)
    return scores


def _log_unopened(forms: PopTimes, score: float, score_sd: float, unseen_share: float) -> FloatArray:
    """(BINS + 1, K) ln probability that no steam was seen by x: the bag opens later, or its steam is never seen."""
    unopened = np.vectorize(NormalDist(score, score_sd).cdf)(_scores(forms))
    return np.ascontiguousarray(np.log(1.0 - (1.0 - unseen_share) * unopened).T)


def _log_opening(forms: PopTimes, score: float, score_sd: float) -> FloatArray:
    """ln density of x at which a bag opens whose normal score of the share popped has this mean and spread."""
    scores = _scores(forms)
    steepness = np.maximum(np.gradient(scores, STEP, axis=1), _LEAST_SHARE)
    return np.ascontiguousarray((-0.5 * ((scores - score) / score_sd) ** 2 + np.log(steepness)).T)


def _openings(forms: PopTimes, log_opening: FloatArray) -> Openings:
    log_weight = log_opening + forms.log_prior
    log_weight -= log_weight.max()
    # A location prior can lift what is far out, so more is kept than will matter.
    edge, form = (log_weight > _NEGLIGIBLE_LOG).nonzero()
    return Openings(x=EDGES_X[edge], silence=first_cells(form), log_weight=log_weight[edge, form])
