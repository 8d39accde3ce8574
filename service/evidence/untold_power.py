"""Off-periods of the magnetron that nobody told, from silences amid the popping.

Model. Where a bag falls silent amid its popping and pops on as it did, its oven did not heat or its microphone did not hear.
A hub that tells when the power changes, or that it is on in such a silence, leaves only the microphone. Otherwise two hypotheses
are weighed by the likelihood of all pops (service.evidence.popping), with all densities of the grid averaged over:

* off: the heating clock stood still, and the pops go on where they were;
* deaf: it went on, nobody knows what was popping meanwhile, and the pops go on where the bag must be by now.

An oven that is off loses some heat, which it must regain before anything pops: so the off-period ends that much before the pops
come again. Several silences are an oven's and not a microphone's. Where they come in even distances and last about as long they
are the rhythm of a magnetron that gives part of its power, which is carried from the start to the present, so that it also holds
where pops are too few to show it. A rhythm in whose off-periods pops come is none.

These are guesses: whoever counts heating against a limit counts what was told.

Range. Off-periods of service.evidence.silences.LEAST_S or more, in brisk popping.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import log, remainder
from statistics import median
from typing import NamedTuple

import numpy as np

from service.evidence.pop_grid import PopGrid
from service.evidence.popping import WHOLE, PopPrior, heard_pops, hopeful_run, pop_likelihood
from service.evidence.silences import IMPROBABLE, Silence, silences_amid_popping
from service.readings.cook import Cook, read_only
from service.readings.periods import RHYTHM_S, RHYTHM_SHARE, Cooling
from service.units import FloatArray

_FULL_PERMILLE = 1000
# A microphone and an oven fail about as often; ties go to the microphone, which is what was known of first.
_OFF_LOG_ODDS = 1.0
# Pops that are late for their switching off, or early for what was regained, and more of them than strays would be.
_EDGE_S, _MOST_IN_OFF = 1.5, 4
# What must be shown besides for one of many rhythms.
_RHYTHM_COSTS = 4.0

_Period = tuple[float, float]


class Listener(NamedTuple):
    """What pops are held against: the grid, what is known of the bag beforehand, the dead time, and how it cools."""

    grid: PopGrid
    prior: PopPrior
    dead_time_s: float
    cooling: Cooling


def with_untold_offs(cook: Cook, as_of_s: float, listener: Listener) -> Cook:
    """The same cook, with the off-periods in its power of which its sound tells and nobody else does."""
    pops_s = cook.pops_ms / 1000.0
    silences = silences_amid_popping(pops_s)
    if not silences or _tells_power(cook, silences[0].begun_s):
        return cook
    offs_s = _in_rhythm(silences, pops_s, as_of_s, listener.cooling)
    if not offs_s:
        certain = [one for one in silences if one.is_certain]
        if not certain or (len(certain) == 1 and not _was_off(pops_s, as_of_s, certain[0], listener)):
            return cook
        offs_s = [(one.begun_s, one.begun_s + _off_s(one.lasted_s, listener.cooling)) for one in certain]
    level = int(cook.power_permille[-1]) if cook.power_permille.size else _FULL_PERMILLE
    told = [(0, level)]
    for begun_s, ended_s in offs_s:
        told += [(round(1000.0 * begun_s), 0), (round(1000.0 * ended_s), level)]
    power_ms, power_permille = np.array([one for one in told if one[0] <= 1000.0 * as_of_s], dtype=np.int32).T
    return replace(cook, power_ms=read_only(power_ms.copy()), power_permille=read_only(power_permille.copy()))


def _tells_power(cook: Cook, silent_from_s: float) -> bool:
    """Whether the power was told to have changed, or to be on since the silence began."""
    levels = cook.power_permille
    if not levels.size:
        return False
    return bool((levels != levels[0]).any()) or levels.item(0) == 0 or cook.power_ms.item(-1) >= 1000.0 * silent_from_s


def _off_s(silence_s: float, cooling: Cooling) -> float:
    """How long the oven was off, after which it had to regain what was lost before the silence ended."""
    if silence_s <= cooling.after_s:
        return silence_s
    gradual_s = (silence_s + cooling.share * cooling.after_s) / (1.0 + cooling.share)
    return max(gradual_s, silence_s - cooling.most_s)


def _was_off(pops_s: FloatArray, until_s: float, silence: Silence, listener: Listener) -> bool:
    """Whether an oven that was off explains the pops better than a microphone that was deaf."""
    until_s = max(until_s, float(pops_s[-1]))
    stood_still = np.where(pops_s > silence.begun_s, pops_s - silence.lasted_s, pops_s)
    off = _log_evidence(stood_still, until_s - silence.lasted_s, (), listener)
    deaf = _log_evidence(pops_s, until_s, (silence[:2],), listener)
    return off - deaf > _OFF_LOG_ODDS


def _log_evidence(pops_u_s: FloatArray, until_u_s: float, deaf_u_s: Sequence[_Period], listener: Listener) -> float:
    """Logarithm of the likelihood of the pops as times in s, averaged over the grid, up to what no clock changes."""
    grid, prior, dead_time_s, _ = listener
    heard = heard_pops(pops_u_s, until_u_s, dead_time_s, WHOLE, deaf_u_s)
    found = pop_likelihood(grid, prior, heard, hopeful_run(grid, prior, heard))
    log_weight = found.log_likelihood + prior.log_weight[found.rows]
    most = log_weight.item(log_weight.argmax())
    # The likelihood is that of ln u, whose density is u times that of u.
    return most + log(float(np.exp(log_weight - most).sum())) - float(np.log(np.maximum(pops_u_s, 1.0)).sum())


def _in_rhythm(silences: list[Silence], pops_s: FloatArray, until_s: float, cooling: Cooling) -> list[_Period]:
    """All off-periods from the start until now, where the silences keep a rhythm; none where they keep none."""
    kept = max((_keeping_time(silences, first) for first in range(len(silences) - 1)), key=_improbable, default=[])
    if len(kept) < 2 or _improbable(kept) < IMPROBABLE + _RHYTHM_COSTS:
        return []
    begun_s = np.array([one.begun_s for one in kept])
    cycles = np.round((begun_s - begun_s[0]) / (begun_s[1] - begun_s[0]))
    cycle_s, phase_s = (float(value) for value in np.polyfit(cycles, begun_s, 1))
    lasts_s = _off_s(median(one.lasted_s for one in kept), cooling)
    if lasts_s > cycle_s - RHYTHM_S:
        return []
    starts_s = phase_s + np.arange(-int(phase_s // cycle_s), int((until_s - phase_s) // cycle_s) + 1) * cycle_s
    since_s = starts_s[starts_s > begun_s[0]]
    within = pops_s.searchsorted(since_s + max(lasts_s - _EDGE_S, _EDGE_S)) - pops_s.searchsorted(since_s + _EDGE_S)
    if within.max(initial=0) >= _MOST_IN_OFF:
        return []
    return [(start_s, start_s + lasts_s) for start_s in starts_s.tolist() if start_s > 0.0]


def _keeping_time(silences: list[Silence], first: int) -> list[Silence]:
    """Those that come whole cycles after or before this one and last about as long; the next of them tells the cycle."""
    base, following = silences[first : first + 2]
    leeway_s = RHYTHM_SHARE * base.lasted_s + RHYTHM_S
    cycle_s = following.begun_s - base.begun_s
    kept = []
    for one in silences[first:]:
        off_s = abs(remainder(one.begun_s - base.begun_s, cycle_s))
        if off_s <= leeway_s and abs(one.lasted_s - base.lasted_s) <= leeway_s:
            kept.append(one)
    return kept if following in kept else []


def _improbable(silences: list[Silence]) -> float:
    return sum(one.improbable for one in silences)
