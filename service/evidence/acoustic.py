"""What the sound of the bag says: whether the microphone is to be believed, and how far the popping has come.

Model. The pops are those of service.evidence.popping, listened to until the newest reading that the link has brought,
because a silence that is only late is no silence. If so few pops since a certain one are next to impossible under the
posterior at that one (a Poisson number, averaged over it, with what is known of the opening of the bag), and less likely than
as many strays, the microphone has failed there: what was heard until then stands, and nothing after it counts, not even the
odd stray. That posterior believes the latest pops most, as that of a bag does which ends sooner than it began. A silence in
which very many were missed is a failure even of a microphone that has begun to hear again.

Range. Silences and rates are in heating time: with the magnetron off nothing is expected.
"""

from dataclasses import dataclass
from math import exp
from typing import Literal, NamedTuple

import numpy as np

from service.evidence.dead_time import dead_time_from_pops
from service.evidence.poisson import probability_of_at_least, probability_of_at_most
from service.evidence.pop_grid import EdgeTable, PopGrid
from service.evidence.popping import (
    WHOLE,
    Heard,
    Memory,
    PopLikelihood,
    PopPrior,
    heard_pops,
    hopeful_run,
    pop_likelihood,
)
from service.evidence.runs import RunNumbers, run_of_pops
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from service.units import FloatArray

Status = Literal["absent", "waiting", "usable", "suspect"]
_HALF_RESOLUTION_S = 0.0005
_STRAY_GAPS = 0.005
_FEW_EXPECTED = 5.0
# Logarithm of how much rarer strays are than the pops of a bag.
_STRAY_LOG = 4.0
# So many missed in one silence were missed by the microphone, even if it hears again.
_SURELY_MISSED = 20.0
_LATEST = 16
_NUMBERS = np.arange(1, _LATEST + 1)
# The cells of the grid below this weight move no probability by as much as a millionth.
_NEGLIGIBLE_LOG = -14.0
_HUMIDITY_LATE = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AcousticNumbers(RunNumbers):
    """Numbers of a programme for the microphone; the programme's file says what each does."""

    heard_share: float
    dead_time_s: float
    dead_time_most_s: float
    rate_window_s: float
    link_lag_s: float
    deaf_probability: float
    deaf_pops: float
    earlier_least_share: float
    earlier_half_pops: float
    lately_reach: float


class Opening(NamedTuple):
    """What is known of the opening of the bag: a log-likelihood over x = ln(u / location), and ln u of its moment."""

    log_likelihood: EdgeTable
    log_u: float

    def at(self, rows: slice) -> FloatArray:
        """(m, C) for a run of locations and all columns."""
        return self.log_likelihood.at(self.log_u, rows)


class _Model(NamedTuple):
    """What the pops are held against."""

    grid: PopGrid
    prior: PopPrior
    opening: Opening | None


class _Deaf(NamedTuple):
    """Below which probability a silence is a failure, and whether this one is too long for anything else."""

    probability: float
    is_sure_of_silence: bool


class Acoustic(NamedTuple):
    """What was heard until `as_of`.

    Attributes:
        status: waiting (no run of pops yet), usable, or suspect (went deaf); the forecast, which knows the setup and the
            steam, also says absent (there is no microphone) and suspect of one that was deaf all along.
        pops: number of pops heard.
        rate_per_s: pops per second of heating lately, those that merged included.
        silence_s: heating time since the last pop, as far as the link has brought readings.
        listened_until_s: how far that is, on the cook clock.
        dead_time_s: how long the microphone is blind after a pop.
        likelihood: of the pops over the grid; None unless a run of pops was heard.
    """

    status: Status
    pops: int
    rate_per_s: float
    silence_s: float
    listened_until_s: float
    dead_time_s: float
    likelihood: PopLikelihood | None


def acoustic_evidence(
    cook: Cook,
    clock: HeatingClock,
    grid: PopGrid,
    prior: PopPrior,
    numbers: AcousticNumbers,
    least_pops: float = 0.0,
    opening: Opening | None = None,
) -> Acoustic:
    """Evidence of the pops of `cook`, which holds nothing later than the clock's `as_of_s`.

    Fewer than `least_pops` are no popping, however close they come. What is known of the opening of the bag says, beside the
    pops, how many are to be expected in a silence.
    """
    pops_s = cook.pops_ms / 1000.0
    last_s = float(pops_s[-1]) if pops_s.size else 0.0
    until_s = listened_until_s(cook, clock.as_of_s, numbers.link_lag_s)
    if clock.due_s is not None:
        # Nobody knows whether it was heated since; a pop that came later shows how far it was listened.
        until_s = min(until_s, max(clock.due_s, last_s))
    dead_time_s = _dead_time_s(cook, numbers)
    status: Status = "waiting"
    likelihood = None
    if pops_s.size >= max(least_pops, int(numbers.popping_count)):
        pops_u_s = clock.hottest_u_s(pops_s)
        if run_of_pops(pops_u_s, numbers) is not None:
            until_u_s = max(clock.hottest_u_s(until_s), float(pops_u_s[-1]))
            status, likelihood = _heard(pops_u_s, until_u_s, dead_time_s, _Model(grid, prior, opening), numbers)
    return Acoustic(
        status=status,
        pops=pops_s.size,
        rate_per_s=_rate_per_s(pops_s, clock, until_s, numbers, dead_time_s),
        silence_s=max(clock.heating_s(max(until_s, last_s)) - clock.heating_s(last_s), 0.0),
        listened_until_s=until_s,
        dead_time_s=dead_time_s,
        likelihood=likelihood,
    )


def listened_until_s(cook: Cook, as_of_s: float, link_lag_s: float) -> float:
    """Until when all that was heard has probably arrived (cook clock, s).

    A humidity sensor that reports in a steady rhythm shows how far the link has come: what is newer than its newest
    reading, or than the newest pop, may still be on its way. Without such a sensor, or when it has fallen silent while
    pops still come, the link is taken to be good.
    """
    times = cook.humidity_ms
    if times.size < 5:
        return as_of_s - link_lag_s
    interval_s = float(times[-1] - times[-5]) / 4000.0
    newest_humidity_s = float(times[-1]) / 1000.0
    newest_pop_s = float(cook.pops_ms[-1]) / 1000.0 if cook.pops_ms.size else 0.0
    if newest_pop_s > newest_humidity_s + _HUMIDITY_LATE * max(interval_s, 1.0):
        return as_of_s - link_lag_s
    return min(as_of_s, max(newest_humidity_s, newest_pop_s)) - link_lag_s


def _dead_time_s(cook: Cook, numbers: AcousticNumbers) -> float:
    if cook.pops_ms.size - 1 < 3 * numbers.popping_count:
        return numbers.dead_time_s
    found = dead_time_from_pops(cook.pops_ms, stray_share=_STRAY_GAPS)
    return numbers.dead_time_s if found is None else min(found.estimate_s, numbers.dead_time_most_s)


def _rate_per_s(
    pops_s: FloatArray, clock: HeatingClock, until_s: float, numbers: AcousticNumbers, dead_time_s: float
) -> float:
    heated_s = clock.heating_s(until_s)
    window_s = min(numbers.rate_window_s, heated_s)
    if window_s <= 0.0 or not pops_s.size:
        return 0.0
    # Half the resolution of the readings away from it, so that rounding cannot put a pop on either side of the edge.
    edge_s = heated_s - window_s + _HALF_RESOLUTION_S
    earlier = int(clock.heating_s(pops_s).searchsorted(edge_s, "right"))
    rate = (pops_s.size - earlier) / window_s
    return rate / max(1.0 - rate * dead_time_s, 0.3)


def _heard(
    pops_u_s: FloatArray,
    until_u_s: float,
    dead_time_s: float,
    model: _Model,
    numbers: AcousticNumbers,
) -> tuple[Status, PopLikelihood]:
    memory = Memory(numbers.earlier_least_share, numbers.earlier_half_pops, numbers.lately_reach)
    heard = heard_pops(pops_u_s, until_u_s, dead_time_s, memory)
    grid, prior, _ = model
    run = hopeful_run(grid, prior, heard)
    silence = _strange_silence(pops_u_s, until_u_s, numbers)
    if silence is not None:
        last, missed = silence
        until_then = pops_u_s[: last + 1], float(pops_u_s[last]), dead_time_s
        deaf = _Deaf(numbers.deaf_probability, missed > _SURELY_MISSED)
        if _is_deaf(heard_pops(*until_then, memory), heard, run, model, deaf):
            # Of a microphone that fails midway the whole half is all there is.
            before = heard_pops(*until_then, WHOLE)
            return "suspect", pop_likelihood(grid, prior, before, hopeful_run(grid, prior, before))
    return "usable", pop_likelihood(grid, prior, heard, run)


def _is_deaf(before: Heard, heard: Heard, run: slice, model: _Model, deaf: _Deaf) -> bool:
    """Whether so few pops since are too improbable by what was heard before."""
    grid, prior, _ = model
    nearby = pop_likelihood(grid, prior, before, run)
    log_weight = _log_weight(nearby, model)
    if log_weight[:: len(log_weight) - 1].max() >= _NEGLIGIBLE_LOG:
        # What was heard before leaves other locations possible, that the silence itself would rule out.
        nearby = pop_likelihood(grid, prior, before, hopeful_run(grid, prior, before))
        log_weight = _log_weight(nearby, model)
    return not _is_so_few_likely(nearby, log_weight, prior, heard, deaf)


def _strange_silence(pops_u_s: FloatArray, until_u_s: float, numbers: AcousticNumbers) -> tuple[int, float] | None:
    """Index of the pop at which a microphone most likely died, if it did; one of the last, before a strange silence.

    With it how many pops the silence after it would have held at the rate before it.

    A silence is strange when it is long for the rate before it. Of several it is the one whose time to the last pop would
    have held most, less what strays in it cost: a stray or two after a microphone has died do not revive it, nor is it they
    that its silence counts from. None when no silence is strange, or before enough pops to know what is.
    """
    window_s = numbers.popping_window_s
    first = max(pops_u_s.size - _LATEST, int(numbers.deaf_pops) - 1)
    if first >= pops_u_s.size:
        return None
    lately = pops_u_s[first:]
    before = _NUMBERS[: lately.size] + first - pops_u_s.searchsorted(lately - window_s)
    expected = (np.concatenate((lately[1:], (until_u_s,))) - lately) * before
    (strange,) = (expected > _FEW_EXPECTED * window_s).nonzero()
    if not strange.size:
        return None
    # Against dying at the last of them: what would have been heard from here to there, less what the strays cost.
    missing = (lately[-1] - lately[strange]) * before[strange] / window_s
    since = lately.size - 1 - strange
    died = int(strange[(missing - _STRAY_LOG * since).argmax()])
    return first + died, expected.item(died) / window_s


def _log_weight(likelihood: PopLikelihood, model: _Model) -> FloatArray:
    """(m, C) logarithm of the posterior weight, 0 at the highest."""
    log_weight = likelihood.log_likelihood + model.prior.log_weight[likelihood.rows]
    if model.opening is not None:
        log_weight += model.opening.at(likelihood.rows)
    log_weight -= log_weight.item(log_weight.argmax())
    return log_weight


def _is_so_few_likely(
    before: PopLikelihood, log_weight: FloatArray, prior: PopPrior, heard: Heard, deaf: _Deaf
) -> bool:
    """Whether the probability of hearing no more than was heard since, averaged over the posterior before, is so high."""
    since, most = heard.pops - before.heard.pops, before.heard.weighted + prior.shape
    # The heaviest cell alone mostly has so much of the probability that the others need not be looked at.
    row, column = divmod(int(log_weight.argmax()), log_weight.shape[1])
    location = before.rows.start + row * before.rows.step
    cdf_there = before.cdf.item(row, column)
    cdf_there_now = before.columns.cdf_mixed.at(heard.log_until, slice(location, location + 1, 1)).item(column)
    expected_there = most * (cdf_there_now - cdf_there) / (before.exposure.item(row, column) + prior.rate)
    limit = deaf.probability
    if not deaf.is_sure_of_silence:
        # A microphone that is dead hears strays alone: so many of them must not be more improbable yet.
        limit *= probability_of_at_least(since, expected_there * exp(-_STRAY_LOG))
    if probability_of_at_most(since, expected_there) >= limit * float(np.add.reduce(np.exp(log_weight), axis=None)):
        return True
    (cells,) = (log_weight > _NEGLIGIBLE_LOG).ravel().nonzero()
    weight, cdf = np.exp(log_weight.take(cells)), before.cdf.take(cells)
    cdf_now = before.columns.cdf_mixed.at(heard.log_until, before.rows).take(cells)
    expected = most * (cdf_now - cdf) / (before.exposure.take(cells) + prior.rate)
    terms = np.multiply.accumulate(expected / _NUMBERS[:since, None], axis=0)
    probability = np.exp(-expected) * (1.0 + terms.sum(axis=0))
    return float(weight.dot(probability)) >= limit * float(weight.sum())
