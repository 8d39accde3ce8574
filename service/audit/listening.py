"""How probable a stop is for a control that waits for a silence, listening through a microphone of its own.

Model. The control hears each pop that we heard with probability q, and others that we missed, as a Poisson process of
`missed_ratio` (1 - q) times our own rate; with q = 1 it hears just what we did. It stops when nothing was heard for g
seconds of heating. In bins of BIN_S let h_k be the probability that it hears something in bin k, and F_k that it has stopped
before. A pop in bin k is the last before a stop at k + g with probability

    (1 - F_k) h_k product of (1 - h_j) over j from k + 1 to k + g,

which is the distribution of the stop, a renewal equation solved forward. The stop is made and noted a little after it is
due, half-normally with sound_late_s; so no pop after the stop is ever asked for.

Range. From the peak of the popping on, or from the tenth sound; g from the smallest of GAPS_S to the largest.
"""

from dataclasses import dataclass

import numpy as np

from service.units import FloatArray, IntArray

BIN_S = 0.125
GAPS_S: tuple[float, ...] = tuple(np.arange(1.0, 5.01, 0.25).tolist())
"""Silences that a control may wait for (s)."""
HEARING: tuple[float, ...] = (0.6, 0.8, 0.95, 1.0)
"""Shares of our pops that its microphone may hear."""
_RATE_WINDOW_S = 5.0
_LEAST_RATE_PER_S = 0.02
_GAPS_BINS = np.array([round(gap_s / BIN_S) for gap_s in GAPS_S])
_GAP = np.arange(_GAPS_BINS.size)
_BLOCK = int(_GAPS_BINS.min())
_HARDLY = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class ListeningNumbers:
    """Of the audit's file: see there."""

    missed_ratio: float
    sound_late_s: float


def log_density_of_stop(pops_s: FloatArray, stop_s: float, begin: int, numbers: ListeningNumbers) -> FloatArray:
    """(G, Q) logarithm of the density (1/s) of the stop for each silence and hearing.

    Times are seconds of heating, the pops ascending and before the stop; listening begins with pop number `begin`.
    """
    begin_s = float(pops_s[begin])
    bins = int((stop_s - begin_s) / BIN_S) + 1
    edges_s = begin_s + np.arange(bins + 1, dtype=np.float64) * BIN_S
    heard = heard_in(np.diff(pops_s.searchsorted(edges_s)), missed_in(pops_s, edges_s, stop_s, numbers.missed_ratio))
    density = np.tensordot(lateness(bins, stop_s - begin_s, numbers), _stops(heard), axes=1)
    log_density: FloatArray = np.log(density + _HARDLY)
    return log_density


def lateness(bins: int, since_s: float, numbers: ListeningNumbers) -> FloatArray:
    """(bins,) density (1/s) of a stop so long after the first bin begins, for what was due in each."""
    late_s = since_s - np.arange(bins) * BIN_S
    density: FloatArray = (
        np.exp(-0.5 * (late_s / numbers.sound_late_s) ** 2) * np.sqrt(2.0 / np.pi) / numbers.sound_late_s
    )
    return density


def missed_in(pops_s: FloatArray, edges_s: FloatArray, stop_s: float, missed_ratio: float) -> FloatArray:
    """(bins, Q) pops that we missed and the control is expected to hear, between each two of the edges."""
    middle_s = edges_s[:-1] + BIN_S / 2.0
    near = pops_s.searchsorted(middle_s + _RATE_WINDOW_S / 2.0) - pops_s.searchsorted(middle_s - _RATE_WINDOW_S / 2.0)
    listened_s = np.clip(stop_s - middle_s, 0.0, _RATE_WINDOW_S / 2.0) + _RATE_WINDOW_S / 2.0
    rate_per_s = np.maximum(near / listened_s, _LEAST_RATE_PER_S)
    missed: FloatArray = missed_ratio * (1.0 - np.array(HEARING)) * rate_per_s[:, None] * BIN_S
    return missed


def heard_in(counts: IntArray, missed: FloatArray) -> FloatArray:
    """(bins, Q) probability that something is heard, of (bins,) pops of ours and (bins, Q) expected others."""
    hearing = np.array(HEARING)
    misses = np.where(hearing < 1.0, 1.0 - hearing, _HARDLY)
    heard: FloatArray = -np.expm1(np.log(misses) * counts[:, None] - missed)
    return heard


def _stops(heard: FloatArray) -> FloatArray:
    """(bins, G, Q) probability of a stop in each bin."""
    bins = len(heard)
    heard_at_most = np.minimum(heard, 1.0 - _HARDLY)
    silent = np.concatenate((np.zeros((1, heard.shape[1])), np.cumsum(np.log1p(-heard_at_most), axis=0)))
    over = np.minimum(np.arange(1, bins + 1)[:, None] + _GAPS_BINS, bins)
    # Of what is heard in the bin in which the silence ends, half comes too late to break it.
    through = (silent[over] + silent[over - 1]) / 2.0 - silent[1:, None, :]
    last = heard[:, None, :] * np.exp(np.minimum(through, 0.0))
    stops = np.zeros((bins + int(_GAPS_BINS.max()) + 1, *last.shape[1:]))
    stopped = np.zeros(last.shape[1:])
    # No stop falls within the shortest silence after its last pop, so that many bins can be done at once.
    for at in range(0, bins, _BLOCK):
        block = np.arange(at, min(at + _BLOCK, bins))
        before = stopped + np.cumsum(stops[block], axis=0)
        stops[block[:, None] + _GAPS_BINS, _GAP] += np.maximum(1.0 - before, 0.0) * last[block]
        stopped = before[-1]
    return stops[:bins]
