"""What the sound of the bag says: whether the microphone is to be believed, and how far the popping has come.

Model. The pops are those of service.evidence.popping, or where times are told in whole steps those of service.evidence.stamps,
listened to until the newest reading that the link has brought, because a silence that is only late is no silence. A microphone
that has failed (service.evidence.deafness) is believed until then, and one that hears again after a silence amid the popping
(service.evidence.silences) was deaf meanwhile.

Range. Silences and rates are in heating time: with the magnetron off nothing is expected.
"""

from dataclasses import dataclass
from typing import Literal, NamedTuple

from service.evidence.dead_time import dead_time_from_pops
from service.evidence.deafness import DeafNumbers, Listened, Model, Opening, failed_at
from service.evidence.pop_grid import PopGrid
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
from service.evidence.runs import run_of_pops
from service.evidence.silences import silences_amid_popping
from service.evidence.stamps import Steps, rate_in_steps, stamped_likelihood, steps_of
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from service.units import FloatArray, IntArray

Status = Literal["absent", "waiting", "usable", "suspect"]
_HALF_RESOLUTION_S = 0.0005
_STRAY_GAPS = 0.005
_HUMIDITY_LATE = 5.0
# The gaps of a cook show a dead time beyond doubt that is longer by so many standard errors.
_SURE_SD, _UNLIKE = 3.0, 1.3


@dataclass(frozen=True, slots=True, kw_only=True)
class AcousticNumbers(DeafNumbers):
    """Numbers of a programme for the microphone; the programme's file says what each does."""

    heard_share: float
    dead_time_s: float
    dead_time_most_s: float
    rate_window_s: float
    link_lag_s: float
    earlier_least_share: float
    earlier_half_pops: float
    lately_reach: float


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
    steps = steps_of(cook.pops_ms)
    dead_time_s = _dead_time_s(cook, numbers) if steps is None else numbers.dead_time_s
    status: Status = "waiting"
    likelihood = None
    if pops_s.size >= max(least_pops, int(numbers.popping_count)):
        pops_u_s = clock.hottest_u_s(pops_s)
        if run_of_pops(pops_u_s, numbers) is not None:
            sound = _Sound(cook.pops_ms, pops_u_s, clock, until_s, dead_time_s, steps)
            status, likelihood = _heard(sound, Model(grid, prior, opening), numbers)
    silent_from_s = last_s if steps is None else last_s + steps.step_s
    return Acoustic(
        status=status,
        pops=pops_s.size,
        rate_per_s=_rate_per_s(pops_s, clock, until_s, numbers, dead_time_s, steps),
        silence_s=max(clock.heating_s(max(until_s, silent_from_s)) - clock.heating_s(silent_from_s), 0.0),
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
    if found is None:
        return numbers.dead_time_s
    is_longer = found.estimate_s - _SURE_SD * found.standard_error_s > numbers.dead_time_most_s
    # Gaps that are all alike, as of clockwork, are none of a counter of pops.
    mean_gap_s = float(cook.pops_ms[-1] - cook.pops_ms[0]) / 1000.0 / found.gaps
    is_believed = is_longer and mean_gap_s > _UNLIKE * found.estimate_s
    return found.estimate_s if is_believed else min(found.estimate_s, numbers.dead_time_most_s)


def _rate_per_s(
    pops_s: FloatArray,
    clock: HeatingClock,
    until_s: float,
    numbers: AcousticNumbers,
    dead_time_s: float,
    steps: Steps | None,
) -> float:
    heated_s = clock.heating_s(until_s)
    window_s = min(numbers.rate_window_s, heated_s)
    if window_s <= 0.0 or not pops_s.size:
        return 0.0
    # Half the resolution of the readings away from it, so that rounding cannot put a pop on either side of the edge.
    edge_s = heated_s - window_s + _HALF_RESOLUTION_S
    earlier = int(clock.heating_s(pops_s).searchsorted(edge_s, "right"))
    if steps is not None:
        return rate_in_steps(pops_s.size - earlier, max(window_s / steps.step_s, 1.0), steps.step_s)
    rate = (pops_s.size - earlier) / window_s
    return rate / max(1.0 - rate * dead_time_s, 0.3)


class _Sound(NamedTuple):
    """Pops on the cook clock (ms) and the heating clock (s), listened to until `until_s`, and how they are told and counted."""

    pops_ms: IntArray
    pops_u_s: FloatArray
    clock: HeatingClock
    until_s: float
    dead_time_s: float
    steps: Steps | None

    def likelihood(self, model: Model, heard: Heard) -> PopLikelihood:
        """Over the run of locations that leaves some hope."""
        grid, prior, _ = model
        if self.steps is not None:
            told_ms = self.pops_ms[: heard.pops]
            until_s = max(self.until_s if heard.pops == self.pops_ms.size else 0.0, float(told_ms[-1]) / 1000.0)
            return stamped_likelihood(grid, prior, heard, self.steps, (told_ms, self.clock, until_s))
        return pop_likelihood(grid, prior, heard, hopeful_run(grid, prior, heard))


def _heard(sound: _Sound, model: Model, numbers: AcousticNumbers) -> tuple[Status, PopLikelihood]:
    memory = Memory(numbers.earlier_least_share, numbers.earlier_half_pops, numbers.lately_reach)
    until_u_s = max(sound.clock.hottest_u_s(sound.until_s), float(sound.pops_u_s[-1]))
    deaf_u_s = [one[:2] for one in silences_amid_popping(sound.pops_u_s) if one.is_certain]
    listened = Listened(sound.pops_u_s, until_u_s, sound.dead_time_s, memory, deaf_u_s)
    heard = heard_pops(*listened)
    last = failed_at(listened, heard, model, numbers)
    if last is None:
        return "usable", sound.likelihood(model, heard)
    # Of a microphone that fails midway the whole half is all there is.
    before = heard_pops(sound.pops_u_s[: last + 1], float(sound.pops_u_s[last]), sound.dead_time_s, WHOLE, deaf_u_s)
    return "suspect", sound.likelihood(model, before)
