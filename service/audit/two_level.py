"""Effects of factors that are each either low or high, from one cook of every combination.

Model. An effect is the mean of the values with the factor high less the mean with it low; that of several factors
together has the product of their signs. Without repeats the small effects themselves show the scatter (Lenth): 1.5 times
the median of those that are not large is a pseudo standard error, with a third as many degrees of freedom as effects.

Range. 2 to 10 factors, 2^k values in standard order (the first factor changes fastest, low first).

References. F. Yates (1937), The Design and Analysis of Factorial Experiments; R. V. Lenth (1989), Technometrics 31:469-473.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from service.audit.least_squares import Tested, tested
from service.units import FloatArray

_SCALE = 1.5
_LARGE = 2.5


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoLevelEffects:
    """The mean of all values, each effect by the names of its factors, and Lenth's pseudo standard error."""

    mean: float
    effects: Mapping[tuple[str, ...], Tested]
    pseudo_standard_error: float


def two_level_effects(values: FloatArray, names: Sequence[str], level: float) -> TwoLevelEffects:
    """All effects of values in standard order. Raises ValueError unless there are 2^k of them for k names, k from 2 to 10."""
    if not 2 <= len(names) <= 10 or values.size != 2 ** len(names):
        raise ValueError(f"{len(names)} factors need {2 ** len(names)} values, one a combination; got {values.size}")
    signs = 2.0 * ((np.arange(values.size)[:, None] >> np.arange(len(names))) & 1) - 1.0
    effects = {}
    for chosen in product((False, True), repeat=len(names)):
        if any(chosen):
            contrast = signs[:, list(chosen)].prod(axis=1)
            named = tuple(name for name, taken in zip(names, chosen, strict=True) if taken)
            effects[named] = float(contrast @ values) / (values.size / 2)
    error = _pseudo_standard_error(np.abs(list(effects.values())))
    df = len(effects) / 3.0
    return TwoLevelEffects(
        mean=float(values.mean()),
        effects={name: tested(effects[name], error, df, level) for name in sorted(effects, key=len)},
        pseudo_standard_error=error,
    )


def _pseudo_standard_error(sizes: FloatArray) -> float:
    first = _SCALE * float(np.median(sizes))
    small = sizes[sizes < _LARGE * first]
    return _SCALE * float(np.median(small)) if small.size else 0.0
