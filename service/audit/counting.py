"""How probable a stop is for a control that waits until sounds are rare, counting them through a microphone of its own.

Model. The control hears as in service.audit.listening. It stops when, of the last m g seconds of heating, fewer than m sounds
are left: when they have become rarer than one in g. In bins of BIN_S let L_k be the number of sounds it hears in bin k, and N_k
that of the m g seconds that end with bin k: each a binomial number of our pops and a Poisson number of those that we missed.
With j = k - m g, the count falls below m in bin k with the probability

    P(N_k = m - 1) P(L_j >= 1) + P(N_k = m - 2) P(L_j >= 2),

since what went out of it then has left too few. Having not stopped before, the control has counted m or more in the bin
before, so it stops with that over P(N_(k-1) >= m): earlier counts are taken to say nothing more.

Range. As there; m from 2 to a handful. A single sound is a silence, which is treated exactly there.
"""

import numpy as np

from service.audit.listening import BIN_S, GAPS_S, HEARING, ListeningNumbers, lateness, missed_in
from service.units import FloatArray, IntArray

_TINY = 1e-12


def log_density_of_stop(
    pops_s: FloatArray, stop_s: float, begin: int, sounds: int, numbers: ListeningNumbers
) -> FloatArray:
    """(G, Q) logarithm of the density (1/s) of the stop for each of GAPS_S and HEARING, as of `sounds` sounds (m).

    Times are seconds of heating, the pops ascending and before the stop; counts are minded from pop number `begin` on.
    """
    spans = np.array([round(sounds * gap_s / BIN_S) for gap_s in GAPS_S])
    # Counts reach back to before the control minds them.
    ahead = int(spans.max()) + 1
    begin_s = float(pops_s[begin])
    bins = int((stop_s - begin_s) / BIN_S) + 1
    edges_s = begin_s + np.arange(-ahead, bins + 1, dtype=np.float64) * BIN_S
    missed = missed_in(pops_s, edges_s, stop_s, numbers.missed_ratio)
    popped = pops_s.searchsorted(edges_s)
    expected = np.concatenate((np.zeros((1, missed.shape[1])), np.cumsum(missed, axis=0)))
    none, one = _of_number(2, np.diff(popped), missed)
    # With the bin before the first, whose count is the one to fall.
    ends = ahead + np.arange(-1, bins)[:, None]
    gone = ends - spans
    counted = _of_number(sounds, popped[ends + 1] - popped[gone + 1], expected[ends + 1] - expected[gone + 1])
    went, went_more = (1.0 - none)[gone[1:]], (1.0 - none - one)[gone[1:]]
    falls = counted[sounds - 1][1:] * went + counted[sounds - 2][1:] * went_more
    enough = 1.0 - np.sum(counted, axis=0)[:-1]
    hazard = np.clip(falls / np.maximum(enough, _TINY), 0.0, 1.0 - _TINY)
    survived = np.exp(np.cumsum(np.log1p(-hazard), axis=0))
    stops = hazard * np.concatenate((np.ones((1, *survived.shape[1:])), survived[:-1]))
    log_density: FloatArray = np.log(np.tensordot(lateness(bins, stop_s - begin_s, numbers), stops, axes=1) + _TINY)
    return log_density


def _of_number(most: int, pops: IntArray, missed: FloatArray) -> list[FloatArray]:
    """(..., Q) probabilities of hearing 0, 1, ... `most` - 1 sounds, of (...) pops of ours and (..., Q) expected others."""
    hearing = np.array(HEARING)
    misses = np.where(hearing < 1.0, 1.0 - hearing, _TINY)
    ours: list[FloatArray] = [np.power(misses, pops[..., None])]
    others: list[FloatArray] = [np.exp(-missed)]
    for number in range(1, most):
        ours.append(ours[-1] * np.maximum(pops - number + 1, 0)[..., None] * (hearing / misses / number))
        others.append(others[-1] * missed / number)
    return [
        np.sum([ours[number] * others[total - number] for number in range(total + 1)], axis=0) for total in range(most)
    ]
