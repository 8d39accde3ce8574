"""Whether a microphone has failed: a silence that what was heard before it makes next to impossible.

Model. If so few pops since a certain one are next to impossible under the posterior at that one (a Poisson number, averaged
over it, with what is known of the opening of the bag), and less likely than as many strays, the microphone has failed there: what
was heard until then stands, and nothing after it counts, not even the odd stray. That posterior believes the latest pops most, as
that of a bag does which ends sooner than it began. A silence in which very many were missed is a failure even of a microphone
that has begun to hear again.

Range. Silences and rates are in heating time: with the magnetron off nothing is expected.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp
from typing import NamedTuple

import numpy as np

from service.evidence.poisson import probability_of_at_least, probability_of_at_most
from service.evidence.pop_grid import EdgeTable, PopGrid
from service.evidence.popping import Heard, Memory, PopLikelihood, PopPrior, heard_pops, hopeful_run, pop_likelihood
from service.evidence.runs import RunNumbers
from service.units import FloatArray

_FEW_EXPECTED = 5.0
# Logarithm of how much rarer strays are than the pops of a bag.
_STRAY_LOG = 4.0
# So many missed in one silence were missed by the microphone, even if it hears again.
_SURELY_MISSED = 20.0
_LATEST = 16
_NUMBERS = np.arange(1, _LATEST + 1)
# The cells of the grid below this weight move no probability by as much as a millionth.
_NEGLIGIBLE_LOG = -14.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DeafNumbers(RunNumbers):
    """Numbers of a programme for the failure of a microphone; the programme's file says what each does."""

    deaf_probability: float
    deaf_pops: float


class Opening(NamedTuple):
    """What is known of the opening of the bag: a log-likelihood over x = ln(u / location), and ln u of its moment."""

    log_likelihood: EdgeTable
    log_u: float

    def at(self, rows: slice) -> FloatArray:
        """(m, C) for a run of locations and all columns."""
        return self.log_likelihood.at(self.log_u, rows)


class Model(NamedTuple):
    """What the pops are held against."""

    grid: PopGrid
    prior: PopPrior
    opening: Opening | None


class _Deaf(NamedTuple):
    """Below which probability a silence is a failure, and whether this one is too long for anything else."""

    probability: float
    is_sure_of_silence: bool


class Listened(NamedTuple):
    """The pops (s on the heating clock, ascending), listened to until `until_u_s`, and how they are counted.

    `deaf_u_s` are the stretches in which nothing could be heard, though more was heard since.
    """

    pops_u_s: FloatArray
    until_u_s: float
    dead_time_s: float
    memory: Memory
    deaf_u_s: Sequence[tuple[float, float]] = ()


def failed_at(listened: Listened, heard: Heard, model: Model, numbers: DeafNumbers) -> int | None:
    """Index of the last pop before the microphone failed; None where it has not. `heard` are the counts of all pops."""
    silence = _strange_silence(listened, numbers)
    if silence is None:
        return None
    last, missed = silence
    until_then = listened.pops_u_s[: last + 1], float(listened.pops_u_s[last]), listened.dead_time_s
    deaf = _Deaf(numbers.deaf_probability, missed > _SURELY_MISSED)
    before = heard_pops(*until_then, listened.memory, listened.deaf_u_s)
    return last if _is_deaf(before, heard, model, deaf) else None


def _is_deaf(before: Heard, heard: Heard, model: Model, deaf: _Deaf) -> bool:
    """Whether so few pops since are too improbable by what was heard before."""
    grid, prior, _ = model
    # What was heard before leaves locations possible that the silence itself would rule out.
    likelihood = pop_likelihood(grid, prior, before, hopeful_run(grid, prior, before))
    return not _is_so_few_likely(likelihood, _log_weight(likelihood, model), prior, heard, deaf)


def _strange_silence(listened: Listened, numbers: DeafNumbers) -> tuple[int, float] | None:
    """Index of the pop at which a microphone most likely died, if it did; one of the last, before a strange silence.

    With it how many pops the silence after it would have held at the rate before it.

    A silence is strange when it is long for the rate before it. Of several it is the one whose time to the last pop would
    have held most, less what strays in it cost: a stray or two after a microphone has died do not revive it, nor is it they
    that its silence counts from. None when no silence is strange, or before enough pops to know what is.
    """
    pops_u_s, until_u_s = listened.pops_u_s, listened.until_u_s
    window_s = numbers.popping_window_s
    first = max(pops_u_s.size - _LATEST, int(numbers.deaf_pops) - 1)
    if first >= pops_u_s.size:
        return None
    lately = pops_u_s[first:]
    before = _NUMBERS[: lately.size] + first - pops_u_s.searchsorted(lately - window_s)
    expected = (np.concatenate((lately[1:], (until_u_s,))) - lately) * before
    for begun_u_s, _ in listened.deaf_u_s:
        # It has heard again since.
        expected[lately == begun_u_s] = 0.0
    (strange,) = (expected > _FEW_EXPECTED * window_s).nonzero()
    if not strange.size:
        return None
    # Against dying at the last of them: what would have been heard from here to there, less what the strays cost.
    missing = (lately[-1] - lately[strange]) * before[strange] / window_s
    since = lately.size - 1 - strange
    died = int(strange[(missing - _STRAY_LOG * since).argmax()])
    return first + died, expected.item(died) / window_s


def _log_weight(likelihood: PopLikelihood, model: Model) -> FloatArray:
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
