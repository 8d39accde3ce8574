"""When a bag is done: one posterior over pop-time densities, fed by the sound and by the onset of steam.

Model. The densities of service.evidence.pop_times, stretched by a location, are the hypotheses. The pops weigh them by
service.evidence.popping. The onset of steam weighs them too: a bag opens when about half of its kernels have popped,
the normal score of that share being opening_score, give or take. Both sensors therefore speak of the same few unknowns,
and their evidence is multiplied; each alone gives a stop time of its own, to be told and compared.

Each hypothesis implies a typical first silence (service.forecast.first_silence); the weighted set of those is the
distribution of the stop time on the heating clock.

A microphone hears only a share of all pops. That share scales the number of kernels and not the shape; the number that
a bag of this mass holds says something about the share.

When sound and steam are further apart than their spreads allow, the sound decides as long as the microphone is usable.
"""

from dataclasses import dataclass, replace
from math import hypot, log, sqrt

import numpy as np

from service.evidence.acoustic import Acoustic, Status, acoustic_evidence
from service.evidence.finite_population import remaining_mean
from service.evidence.moisture import moisture_evidence
from service.evidence.popping import PopLikelihood
from service.forecast.first_silence import typical_stop_s
from service.forecast.outlook import LedBy, Outlook
from service.forecast.popcorn_model import BagPrior, PopcornModel, bag_prior, log_location_weight, popcorn_model
from service.forecast.stop_time import StopTime, stop_time
from service.programs.programme import Programme
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from service.readings.setup import Setup
from service.units import FloatArray

_NEGLIGIBLE_LOG = -7.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Hypotheses:
    """Grid points that carry weight.

    Attributes:
        stop_u_s: (n,) typical first silence (s on the heating clock).
        log_sound, log_both: (n,) logarithm of the weight by sound alone, and by sound and steam.
        unheard: (n,) kernels that will still pop.
    """

    stop_u_s: FloatArray
    log_sound: FloatArray
    log_both: FloatArray
    unheard: FloatArray


def popcorn_outlook(
    programme: Programme, setup: Setup, cook: Cook, clock: HeatingClock, reach_sd: float
) -> Outlook:
    """Evidence and forecast from `cook`, which holds nothing later than the clock's `as_of_s`.

    `reach_sd` is half the width of the wanted central interval, in standard deviations of a normal.
    """
    model = popcorn_model(programme)
    bag = bag_prior(model, setup.rated_w, setup.load_g)
    moisture = moisture_evidence(cook, model.moisture)
    onset_s = None if moisture.steam is None else moisture.steam.onset_s
    acoustic = acoustic_evidence(cook, clock, model.grid, bag.pops, model.acoustic)
    if acoustic.status == "waiting":
        acoustic = replace(acoustic, status=_silent_status(acoustic, setup, clock, onset_s, model.deaf_after_steam_s))
    onset_u_s = None if onset_s is None else max(float(clock.full_power_s(onset_s)), 1.0)
    gap_u_s = (programme.number("gap_s") if setup.gap_s is None else setup.gap_s) * clock.on_level()
    by_steam = None if onset_u_s is None else _by_steam(model, bag, onset_u_s, gap_u_s)
    if acoustic.likelihood is None:
        return Outlook(
            acoustic=acoustic,
            moisture=moisture,
            stop=by_steam,
            by_sound=None,
            by_steam=by_steam,
            led_by=None if by_steam is None else "steam",
            disagree=False,
            inferred={"acoustic": {"kernels_left": None}},
        )
    trust = model.sound_trust if acoustic.status == "usable" else model.suspect_trust
    held = _hypotheses(model, bag, acoustic.likelihood, trust, onset_u_s, gap_u_s)
    by_sound = stop_time(held.stop_u_s, np.exp(held.log_sound))
    stop, led_by, disagree = _fused(model, acoustic, held, by_sound, by_steam)
    return Outlook(
        acoustic=acoustic,
        moisture=moisture,
        stop=stop,
        by_sound=by_sound,
        by_steam=by_steam,
        led_by=led_by,
        disagree=disagree,
        inferred={"acoustic": {"kernels_left": _left(held, reach_sd)}},
    )


def _silent_status(
    acoustic: Acoustic, setup: Setup, clock: HeatingClock, onset_s: float | None, deaf_after_steam_s: float
) -> Status:
    """What a microphone is that has heard no popping: not there, deaf all along, or merely waiting."""
    if setup.sensors is not None and "acoustic" not in setup.sensors and acoustic.pops == 0:
        return "absent"
    if onset_s is not None and clock.on_s_since(onset_s) > deaf_after_steam_s:
        return "suspect"
    return "waiting"


def _fused(
    model: PopcornModel, acoustic: Acoustic, held: _Hypotheses, by_sound: StopTime, by_steam: StopTime | None
) -> tuple[StopTime, LedBy, bool]:
    if by_steam is None:
        return by_sound, "sound", False
    if not _disagree(by_sound, by_steam, model.disagreement_sd):
        return stop_time(held.stop_u_s, np.exp(held.log_both)), "both", False
    return (by_sound, "sound", True) if acoustic.status == "usable" else (by_steam, "steam", True)


def _by_steam(model: PopcornModel, bag: BagPrior, onset_u_s: float, gap_u_s: float) -> StopTime:
    openings = model.openings
    log_location = log(onset_u_s) - openings.x
    log_weight = openings.log_weight + log_location_weight(log_location, bag.log_location, bag.location_log_sd)
    stop_u_s = typical_stop_s(model.silence, openings.form, np.full(openings.x.size, bag.kernels), log_location, gap_u_s)
    return stop_time(stop_u_s, np.exp(log_weight - log_weight.max()))


def _hypotheses(
    model: PopcornModel,
    bag: BagPrior,
    likelihood: PopLikelihood,
    trust: float,
    onset_u_s: float | None,
    gap_u_s: float,
) -> _Hypotheses:
    grid, columns = model.grid, model.grid.columns
    rows = slice(likelihood.first, likelihood.first + len(likelihood.cdf))
    log_sound = trust * likelihood.log_likelihood + columns.log_prior + bag.pops.log_location[rows, None]
    log_sound -= log_sound.max()
    log_both = log_sound
    if onset_u_s is not None:
        opening = model.log_opening.at(log(onset_u_s), rows)
        log_both = log_sound + np.tile(opening, columns.form.size // opening.shape[1])
        log_both -= log_both.max()
    row, column = ((log_sound > _NEGLIGIBLE_LOG) | (log_both > _NEGLIGIBLE_LOG)).nonzero()
    cdf, clutter = likelihood.cdf[row, column], columns.clutter[column]
    heard = (likelihood.pops_corrected + bag.pops.shape) / (cdf + bag.pops.rate) * (1.0 - clutter)
    kernels = _kernels(bag, heard)
    log_location = grid.log_location[row + likelihood.first]
    stop_u_s = typical_stop_s(model.silence, columns.form[column], kernels, log_location, gap_u_s)
    remaining = remaining_mean(round(likelihood.pops_corrected), cdf, bag.pops.shape, bag.pops.rate)
    return _Hypotheses(
        stop_u_s=stop_u_s,
        log_sound=log_sound[row, column],
        log_both=log_both[row, column],
        unheard=remaining * kernels / heard,
    )


def _kernels(bag: BagPrior, heard: FloatArray) -> FloatArray:
    """All kernels that pop, from those that will be heard: the share heard is drawn to what the bag should hold."""
    trust = bag.heard_share_log_sd**2 / (bag.heard_share_log_sd**2 + bag.kernels_log_sd**2)
    log_share = (1.0 - trust) * np.log(bag.heard_share) + trust * np.minimum(np.log(heard / bag.kernels), 0.0)
    kernels: FloatArray = heard * np.exp(-log_share)
    return kernels


def _left(held: _Hypotheses, reach_sd: float) -> dict[str, float]:
    """Kernels that will still pop: mean, and the ends of the central interval."""
    weight = np.exp(held.log_sound)
    weight /= weight.sum()
    # Interpolation can leave a share popped a hair above the whole.
    unheard = np.maximum(held.unheard, 0.0)
    estimate = float(weight @ unheard)
    # A Poisson number at each hypothesis, mixed over them.
    variance = estimate + float(weight @ (unheard - estimate) ** 2)
    reach = reach_sd * sqrt(variance)
    return {"estimate": estimate, "low": max(estimate - reach, 0.0), "high": estimate + reach}


def _disagree(by_sound: StopTime, by_steam: StopTime, limit_sd: float) -> bool:
    apart = abs(by_sound.log_mean - by_steam.log_mean)
    return apart > limit_sd * hypot(by_sound.log_sd, by_steam.log_sd)
