"""When a bag is done: one posterior over pop-time densities, fed by the sound and by the onset of steam.

Model. The densities of service.evidence.pop_times, stretched by a location, are the hypotheses. The pops weigh them by
service.evidence.popping. The onset of steam weighs them too: a bag opens when about half of its kernels have popped,
the normal score of that share being opening_score, give or take. A bag whose steam a working sensor has not seen yet is,
most likely, not that far. Both sensors therefore speak of the same few unknowns, and their evidence is multiplied; each
alone gives a stop time of its own, to be told and compared.

Each hypothesis implies a typical first silence (service.forecast.first_silence); the weighted set of those is the
distribution of the stop time on the heating clock.

A microphone hears only a share of all pops. That share scales the number of kernels and not the shape; the number that
a bag like this one holds says something about the share: far fewer pops than that are a faint microphone, rather than a bag
that is smaller than any.

When sound and steam are further apart than their spreads allow, the sound decides as long as the microphone is usable.
"""

from dataclasses import replace
from math import ceil, hypot, log, sqrt
from typing import NamedTuple

import numpy as np

from service.evidence.acoustic import Acoustic, Status, acoustic_evidence
from service.evidence.beats import without_beats
from service.evidence.deafness import Opening
from service.evidence.moisture import Moisture, moisture_evidence
from service.evidence.popping import PopLikelihood, PopPrior
from service.forecast.bag_prior import BagPrior, bag_prior
from service.forecast.bag_steam import bag_steam_numbers, own_odds
from service.forecast.first_silence import log_typical_stop
from service.forecast.outlook import LedBy, Outlook
from service.forecast.popcorn_model import PopcornModel, popcorn_model
from service.forecast.steam_clock import stop_by_steam
from service.forecast.stop_time import StopTime, stops_and_means
from service.programs.programme import Programme
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from service.readings.setup import Setup
from service.units import BoolArray, FloatArray

_NEGLIGIBLE_LOG = -6.0
_READINGS_OF_STEAM = 3


class _Hypotheses(NamedTuple):
    """Grid points that carry weight.

    log_stop: (n,) logarithm of the typical first silence (s on the heating clock); weights: (k, n) by sound alone and, where
    the vapour says when the bag opened or that it has not, by both; unheard: (n,) kernels that will still pop; share: (n,) share
    of the pops that is heard; popped: (n,) share of all that will be heard that was heard so far.
    """

    log_stop: FloatArray
    weights: FloatArray
    unheard: FloatArray
    share: FloatArray
    popped: FloatArray


def popcorn_outlook(programme: Programme, setup: Setup, cook: Cook, clock: HeatingClock, reach_sd: float) -> Outlook:
    """Evidence and forecast from `cook`, which holds nothing later than the clock's `as_of_s`.

    `reach_sd` is half the width of the wanted central interval, in standard deviations of a normal.
    """
    model = popcorn_model(programme)
    pops_ms = without_beats(cook.pops_ms, round(1000.0 * clock.as_of_s))
    if pops_ms is not cook.pops_ms:
        cook = replace(cook, pops_ms=pops_ms)
    bag = bag_prior(programme, model.grid, setup.rated_w, setup.load_g)
    moisture = moisture_evidence(cook, model.moisture, clock.as_of_s)
    seen_s = None if moisture.steam is None else moisture.steam.onset_s
    is_of_bag = seen_s is not None and _is_of_bag(model, cook, seen_s)
    # A bag that opens has popped more than that: fewer are strays, or heard by a microphone that hears badly.
    least_pops = model.stop_least_pops if is_of_bag else 0.0
    opening = _opening(model, is_of_bag, moisture, cook, clock)
    acoustic = acoustic_evidence(cook, clock, model.grid, bag.pops, model.acoustic, least_pops, opening)
    if acoustic.likelihood is None:
        is_of_bag = _opened_unheard(programme, setup, bag, moisture, clock)
    onset_s = seen_s if is_of_bag else None
    if acoustic.status == "waiting":
        status = _silent_status(acoustic, setup, clock, onset_s, model.deaf_after_steam_s)
        acoustic = acoustic._replace(status=status)
    log_onset = None if onset_s is None else _log_u(clock, onset_s)
    log_gap = log((programme.number("gap_s") if setup.gap_s is None else setup.gap_s) * clock.on_level())
    by_steam = None if log_onset is None else stop_by_steam(model, bag, log_onset, log_gap)
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
    is_usable = acoustic.status == "usable"
    held = _hypotheses(model, bag, acoustic.likelihood, is_usable, opening, log_gap)
    means_of = (held.share, held.popped, held.unheard, held.unheard * held.unheard)
    found = stops_and_means(held.log_stop, held.weights, means_of)
    by_sound, (*_, unheard, unheard_square) = found[0]
    by_all, (share, popped, *_) = found[-1]
    stop, led_by, disagree = _fused(model, acoustic, by_sound, by_steam, by_all)
    if by_steam is not None and stop.log_mean > (latest := _at_latest(model, by_steam)).log_mean:
        # The sound does not end, though this bag must: something else clicks on.
        stop, led_by, disagree = latest, "steam", True
    return Outlook(
        acoustic=acoustic,
        moisture=moisture,
        stop=stop,
        by_sound=by_sound,
        by_steam=by_steam,
        led_by=led_by,
        disagree=disagree or onset_s != seen_s,
        few_pops=onset_s is None and acoustic.pops < _curve_least_pops(model, moisture),
        heard_share=share,
        popped_share=popped,
        inferred={"acoustic": {"kernels_left": _left(unheard, unheard_square, reach_sd)}},
    )


def _opening(
    model: PopcornModel, is_of_bag: bool, moisture: Moisture, cook: Cook, clock: HeatingClock
) -> Opening | None:
    """What the vapour says of the opening of the bag: when it was, or until when it was not; None where it cannot tell."""
    if moisture.steam is None:
        return None
    onset_s = moisture.steam.onset_s
    if onset_s is not None:
        return Opening(model.log_opening, _log_u(clock, onset_s)) if is_of_bag else None
    shut_until_s = clock.as_of_s if moisture.lived_until_s is None else moisture.lived_until_s
    # Steam is not seen before there are some readings of it, and none at all while none come.
    read_until_s = float(cook.humidity_ms[-_READINGS_OF_STEAM]) / 1000.0
    return Opening(model.log_unopened, _log_u(clock, min(shut_until_s - model.unopened_lag_s, read_until_s)))


def _log_u(clock: HeatingClock, t_s: float) -> float:
    return log(max(clock.hottest_u_s(t_s), 1.0))


def _curve_least_pops(model: PopcornModel, moisture: Moisture) -> float:
    return model.curve_least_pops if moisture.status == "usable" else model.stop_least_pops


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
    model: PopcornModel, acoustic: Acoustic, by_sound: StopTime, by_steam: StopTime | None, by_both: StopTime
) -> tuple[StopTime, LedBy, bool]:
    if by_steam is None:
        return by_both, "sound", False
    apart = abs(by_sound.log_mean - by_steam.log_mean)
    if apart <= model.disagreement_sd * hypot(by_sound.log_sd, by_steam.log_sd):
        return by_both, "both", False
    return (by_sound, "sound", True) if acoustic.status == "usable" else (by_steam, "steam", True)


def _opened_unheard(programme: Programme, setup: Setup, bag: BagPrior, moisture: Moisture, clock: HeatingClock) -> bool:
    """Whether steam beside which no popping was heard is more probably this bag's than another's."""
    if moisture.steam is None:
        return False
    listens = setup.sensors is None or "acoustic" in setup.sensors
    return own_odds(bag_steam_numbers(programme), bag, clock, moisture.steam, listens=listens) >= 1.0


def _is_of_bag(model: PopcornModel, cook: Cook, onset_s: float) -> bool:
    """Whether enough pops were heard before this onset of steam: a bag does not open before it pops."""
    return int(cook.pops_ms.searchsorted(ceil(1000.0 * onset_s))) >= model.popped_when_open * cook.pops_ms.size


def _at_latest(model: PopcornModel, by_steam: StopTime) -> StopTime:
    """The latest stop that is believed after this onset of steam."""
    return by_steam._replace(log_mean=by_steam.log_mean + model.steam_latest_sd * by_steam.log_sd)


def _hypotheses(
    model: PopcornModel,
    bag: BagPrior,
    likelihood: PopLikelihood,
    is_usable: bool,
    opening: Opening | None,
    log_gap: float,
) -> _Hypotheses:
    rows, prior = likelihood.rows, bag.pops
    log_sound = _log_sound(likelihood, prior, model.sound_trust if is_usable else model.suspect_trust, is_usable)
    matter, most_by_sound = _carrying(log_sound)
    if opening is not None:
        log_both = opening.at(rows)
        log_both += log_sound if is_usable else _log_sound(likelihood, prior, model.suspect_trust_with_steam, is_usable)
        matter_by_both, most_by_both = _carrying(log_both)
        matter |= matter_by_both
    (places,) = matter.ravel().nonzero()
    cells = model.cells.at(likelihood.first * likelihood.columns.form.size, places)
    cdf = likelihood.cdf.take(places, mode="clip")
    in_all = likelihood.exposure.take(places, mode="clip")
    in_all += prior.rate
    np.divide(likelihood.weighted_corrected + prior.shape, in_all, out=in_all)
    log_heard = np.log(in_all * cells.clear)
    # Of a bag that pops late more is expected.
    log_share = bag.share.at(log_heard - bag.kernels_exponent * (cells.log_location - bag.log_location))
    log_stop = log_typical_stop(model.silence, cells.silence, log_heard - log_share, cells.log_location, log_gap)
    weights = np.empty((1 if opening is None else 2, places.size))
    np.subtract(log_sound.take(places, mode="clip"), most_by_sound, out=weights[0])
    if opening is not None:
        np.subtract(log_both.take(places, mode="clip"), most_by_both, out=weights[1])
    share = np.exp(log_share)
    unheard = in_all * (1.0 - cdf) / share
    return _Hypotheses(
        log_stop=log_stop,
        weights=np.exp(weights, out=weights),
        unheard=unheard,
        share=share,
        popped=cdf,
    )


def _log_sound(likelihood: PopLikelihood, prior: PopPrior, trust: float, is_usable: bool) -> FloatArray:
    """(m, c) logarithm of the weight by sound alone, what is heard being raised to the power of `trust`."""
    log_weight: FloatArray = likelihood.log_likelihood * trust
    log_weight += prior.log_weight[likelihood.rows]
    if not is_usable:
        log_weight += (1.0 - trust) * _log_kernels_prior(likelihood, prior)
    return log_weight


def _carrying(log_weight: FloatArray) -> tuple[BoolArray, float]:
    """Which carry weight, and the logarithm of the highest."""
    most = log_weight.item(log_weight.argmax())
    return log_weight > most + _NEGLIGIBLE_LOG, most


def _log_kernels_prior(likelihood: PopLikelihood, prior: PopPrior) -> FloatArray:
    """(m, c) logarithm of the prior weight of the number that should be heard, at what the pops make of it.

    Where the likelihood counts for less, so does the prior of the number that is inside it; this is what to add, so that
    few pops do not stand for a bag of thousands that has hardly begun.
    """
    merged = likelihood.pops_corrected / likelihood.heard.pops
    number = (likelihood.heard.pops + prior.shape) / (likelihood.cdf + prior.rate * merged)
    log_weight: FloatArray = prior.shape * np.log(number) - prior.rate * merged * number
    return log_weight


def _left(mean: float, mean_square: float, reach_sd: float) -> dict[str, float]:
    """Kernels that will still pop: mean, and the ends of the central interval."""
    # Interpolation can leave a share popped a hair above the whole.
    estimate = max(mean, 0.0)
    # A Poisson number at each hypothesis, mixed over them.
    reach = reach_sd * sqrt(estimate + max(mean_square - mean * mean, 0.0))
    return {"estimate": estimate, "low": max(estimate - reach, 0.0), "high": estimate + reach}
