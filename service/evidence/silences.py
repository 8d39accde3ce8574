"""Silences amid the popping: stretches in which nothing was heard though the bag popped briskly before them and after.

Model. The density of the pop times has one peak, so that between two moments it is nowhere lower than at the lower of them. Of n
pops in a window w at a constant rate, the chance that none comes in s more is (w / (w + s))^n, with the rate integrated out
under a prior of one over it. A silence between n pops in the window before it and m in the window after it is therefore no more
likely than

    (w / (w + s))^min(n, m),

and where that is next to nothing it was none of the bag's: the microphone did not hear, or the oven did not heat.

Range. Silences of LEAST_S or more, with brisk popping on both sides; the windows are as long as the silence, within bounds.
What beats on after a silence, and strays that come in a burst, make one too.

Reference. The predictive distribution of a Poisson number under a gamma prior; A. Gelman et al. (2013), Bayesian Data Analysis,
section 2.6, from memory.
"""

from math import ceil, log1p
from typing import NamedTuple

from service.units import FloatArray

LEAST_S = 3.0
_LONGEST_WINDOW_S = 8.0
IMPROBABLE = 13.0
"""Logarithm of how improbable a silence must be: of all in a cook, asked about each second, none is to be one by chance."""
_SUGGESTIVE = 5.0
# With fewer pops than this on either side no silence is told at all.
_LEAST_POPS = 7
# A bag has no more of them before it is done; where something clicks on for hours the latest are looked at.
_MOST = 32


class Silence(NamedTuple):
    """From the last pop before a silence until the first after it (s), and how improbable it is (less the logarithm)."""

    begun_s: float
    ended_s: float
    improbable: float

    @property
    def lasted_s(self) -> float:
        """How long it lasted (s)."""
        return self.ended_s - self.begun_s

    @property
    def is_certain(self) -> bool:
        """Whether it alone shows that something was amiss; others may be such by chance."""
        return self.improbable >= IMPROBABLE


def silences_amid_popping(pops_s: FloatArray) -> list[Silence]:
    """The silences amid the popping that are rather improbable, among pops on any clock (s, ascending)."""
    within = pops_s[_LEAST_POPS : 1 - _LEAST_POPS] - pops_s[_LEAST_POPS - 1 : -_LEAST_POPS]
    if not within.size or within.item(within.argmax()) < LEAST_S:
        return []
    lasts = (within >= LEAST_S).nonzero()[0][-_MOST:] + (_LEAST_POPS - 1)
    found = [_silence(pops_s, last) for last in lasts.tolist()]
    return [one for one in found if one is not None and one.improbable >= _SUGGESTIVE]


def _silence(pops_s: FloatArray, last: int) -> Silence | None:
    """That after the pop of this index; None where its pops are plainly too few."""
    begun_s, ended_s = pops_s.item(last), pops_s.item(last + 1)
    window_s = min(ended_s - begun_s, _LONGEST_WINDOW_S)
    if begun_s - pops_s.item(last + 1 - _LEAST_POPS) > window_s:
        return None
    each = log1p((ended_s - begun_s) / window_s)
    # With fewer than so many on a side it is not even suggestive.
    least = max(ceil(_SUGGESTIVE / each), _LEAST_POPS)
    if last + least >= pops_s.size or last + 1 < least:
        return None
    if begun_s - pops_s.item(last + 1 - least) > window_s or pops_s.item(last + least) - ended_s > window_s:
        return None
    before = last + 1 - int(pops_s.searchsorted(begun_s - window_s))
    after = int(pops_s.searchsorted(ended_s + window_s, "right")) - last - 1
    return Silence(begun_s, ended_s, min(before, after) * each)
