"""What the sound of the bag says: whether the microphone is to be believed, and how far the popping has come.

Model. The pops are those of service.evidence.popping, listened to until the newest reading that the link has brought,
because a silence that is only late is no silence. If so few pops since a certain one are next to impossible under the
posterior at that one (a Poisson number, averaged over it), the microphone has failed there: what was heard until then
stands, and nothing after it counts, not even the odd stray.

Range. Silences and rates are in heating time: with the magnetron off nothing is expected.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from service.evidence.dead_time import dead_time_from_pops
from service.evidence.popping import PopGrid, PopLikelihood, PopPrior, pop_likelihood
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from service.units import FloatArray

Status = Literal["absent", "waiting", "usable", "suspect"]
_STRAY_GAPS = 0.005
_FEW_EXPECTED = 5.0
_LATEST = 16
_HUMIDITY_LATE = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AcousticNumbers:
    """Numbers of a programme for the microphone; the programme's file says what each does."""

    heard_share: float
    dead_time_s: float
    dead_time_most_s: float
    popping_count: float
    popping_window_s: float
    rate_window_s: float
    link_lag_s: float
    deaf_probability: float
    deaf_pops: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Acoustic:
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
    cook: Cook, clock: HeatingClock, grid: PopGrid, prior: PopPrior, numbers: AcousticNumbers
) -> Acoustic:
    """Evidence of the pops of `cook`, which holds nothing later than the clock's `as_of_s`."""
    pops_s = cook.pops_ms / 1000.0
    until_s = listened_until_s(cook, clock.as_of_s, numbers.link_lag_s)
    last_s = float(pops_s[-1]) if pops_s.size else 0.0
    silence_s = max(float(clock.heating_s(max(until_s, last_s)) - clock.heating_s(last_s)), 0.0)
    dead_time_s = _dead_time_s(cook, numbers)
    rate_per_s = _rate_per_s(pops_s, clock, until_s, numbers, dead_time_s)
    status: Status = "waiting"
    likelihood = None
    if _popping(clock.full_power_s(pops_s), numbers):
        status, likelihood = _heard(pops_s, clock, until_s, dead_time_s, grid, prior, numbers)
    return Acoustic(
        status=status,
        pops=int(pops_s.size),
        rate_per_s=rate_per_s,
        silence_s=silence_s,
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
    found = dead_time_from_pops(cook.pops_ms, stray_share=_STRAY_GAPS)
    if found is None or found.gaps < 3 * numbers.popping_count:
        return numbers.dead_time_s
    return min(found.estimate_s, numbers.dead_time_most_s)


def _rate_per_s(
    pops_s: FloatArray, clock: HeatingClock, until_s: float, numbers: AcousticNumbers, dead_time_s: float
) -> float:
    heated_s = float(clock.heating_s(until_s))
    window_s = min(numbers.rate_window_s, heated_s)
    if window_s <= 0.0 or not pops_s.size:
        return 0.0
    heating_s = clock.heating_s(pops_s)
    rate = float(np.count_nonzero(heating_s > heated_s - window_s)) / window_s
    return rate / max(1.0 - rate * dead_time_s, 0.3)


def _popping(pops_u_s: FloatArray, numbers: AcousticNumbers) -> bool:
    """Whether any stretch of the heating clock holds a run of pops: strays alone do not."""
    count = int(numbers.popping_count)
    if pops_u_s.size < count:
        return False
    lengths = pops_u_s[count - 1 :] - pops_u_s[: pops_u_s.size - count + 1]
    return bool(lengths.min() <= numbers.popping_window_s)


def _heard(
    pops_s: FloatArray,
    clock: HeatingClock,
    until_s: float,
    dead_time_s: float,
    grid: PopGrid,
    prior: PopPrior,
    numbers: AcousticNumbers,
) -> tuple[Status, PopLikelihood]:
    pops_u_s = clock.full_power_s(pops_s)
    until_u_s = max(float(clock.full_power_s(until_s)), float(pops_u_s[-1]))
    whole = pop_likelihood(grid, prior, pops_u_s, until_u_s, dead_time_s)
    last = _last_before_silence(pops_u_s, until_u_s, numbers)
    if last is None:
        return "usable", whole
    frozen = pop_likelihood(grid, prior, pops_u_s[: last + 1], float(pops_u_s[last]), dead_time_s)
    if _probability_of_so_few(grid, prior, frozen, whole) < numbers.deaf_probability:
        return "suspect", frozen
    return "usable", whole


def _last_before_silence(pops_u_s: FloatArray, until_u_s: float, numbers: AcousticNumbers) -> int | None:
    """Index of the pop before the strangest silence among the last ones: the longest for the rate before it.

    None when no silence is long enough to be strange, or before enough pops to know what is. A stray or two after a
    microphone has died do not revive it.
    """
    window_s = numbers.popping_window_s
    first = max(pops_u_s.size - _LATEST, int(numbers.deaf_pops) - 1)
    lately = pops_u_s[first:]
    if not lately.size:
        return None
    silence_s = np.concatenate((lately[1:], (until_u_s,))) - lately
    before = np.arange(first, pops_u_s.size) + 1 - pops_u_s.searchsorted(lately - window_s)
    expected = silence_s * before / window_s
    strangest = int(expected.argmax())
    return first + strangest if expected[strangest] > _FEW_EXPECTED else None


def _probability_of_so_few(grid: PopGrid, prior: PopPrior, frozen: PopLikelihood, whole: PopLikelihood) -> float:
    """Probability of hearing no more than was heard after the frozen moment, averaged over the posterior at it."""
    first = max(frozen.first, whole.first)
    last = min(frozen.first + len(frozen.cdf), whole.first + len(whole.cdf))
    if first >= last:
        return 0.0
    before = slice(first - frozen.first, last - frozen.first)
    after = slice(first - whole.first, last - whole.first)
    log_weight = frozen.log_likelihood[before] + grid.columns.log_prior + prior.log_location[first:last, None]
    weight = np.exp(log_weight - log_weight.max())
    total = (frozen.pops + prior.shape) / (frozen.cdf[before] + prior.rate)
    expected = total * (whole.cdf[after] - frozen.cdf[before])
    term = np.exp(-expected)
    probability = term.copy()
    for count in range(1, whole.pops - frozen.pops + 1):
        term *= expected / count
        probability += term
    return float((weight * probability).sum() / weight.sum())
