"""One way to explain the stops of an oven, and how well it does.

Model. The logarithm of a stop is an offset that a cue gives, plus a few free coefficients, plus scatter. A cue may have a
constant of its own on a grid (how long a silence, how many seconds): it is summed over. A cook that lacks the cue is one
that this variant does not explain; it counts as an unexplained stop.

Range. As of service.audit.evidence_of_fit.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import log
from typing import Literal, TypeAlias

import numpy as np

from service.audit.evidence_of_fit import ErrorPrior, Explained, explained
from service.units import BoolArray, FloatArray

Kind: TypeAlias = Literal["timer", "steam", "sound", "something-else"]
KINDS: tuple[Kind, ...] = ("timer", "steam", "sound", "something-else")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Variant:
    """A way to explain n stops.

    Attributes:
        kind: what it is a variant of.
        values: (n,) logarithm of the stop, on the clock that this variant goes by.
        offsets: (k, n) logarithm of what the cue gives for each constant of the grid; NaN where a cook lacks it.
        design: (n, p) what the coefficients multiply.
        prior_mean, prior_sd: (p,) of the coefficients.
        errors: prior of the scatter.
        says: the words, from the place on the grid and the coefficients.
        log_prior: logarithm of the share that this variant has of its kind, against the others of that kind.
        log_weights: (k,) logarithms of the prior weights of the constants, which add up to 1; None for all alike.
    """

    kind: Kind
    values: FloatArray
    offsets: FloatArray
    design: FloatArray
    prior_mean: FloatArray
    prior_sd: FloatArray
    errors: ErrorPrior
    says: Callable[[int, FloatArray], str]
    log_prior: float = 0.0
    log_weights: FloatArray | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Explanation:
    """How well a variant explains the stops.

    Attributes:
        kind, says: what it is, in words, with the constant that fits best.
        log_evidence: logarithm of its marginal likelihood.
        error_sd: scatter of the stops about it, as a share of the stop.
        residuals: (n,) logarithm of the stop over what it would have been; NaN where its cue is missing.
    """

    kind: Kind
    says: str
    log_evidence: float
    error_sd: float
    residuals: FloatArray


Unexplained: TypeAlias = Callable[[FloatArray], float]
"""The logarithm of the marginal likelihood of stops, given as (m,) logarithms, that nothing explains."""


def weigh(variant: Variant, unexplained: Unexplained) -> Explanation | None:
    """The explanation that a variant gives; None where fewer than half of the cooks have its cue."""
    has_cue: BoolArray = np.isfinite(variant.offsets[0])
    if 2 * int(has_cue.sum()) < has_cue.size:
        return None
    fits = [_fit(variant, offsets, has_cue) for offsets in variant.offsets]
    log_evidences = np.array([fit.log_evidence for fit in fits])
    log_evidences += -log(len(fits)) if variant.log_weights is None else variant.log_weights
    best = int(log_evidences.argmax())
    log_evidence = float(log_evidences[best]) + log(float(np.exp(log_evidences - log_evidences[best]).sum()))
    log_evidence += variant.log_prior
    if not has_cue.all():
        log_evidence += unexplained(variant.values[~has_cue])
    return Explanation(
        kind=variant.kind,
        says=variant.says(best, fits[best].coefficients),
        log_evidence=log_evidence,
        error_sd=fits[best].error_sd,
        residuals=variant.values - variant.offsets[best] - variant.design @ fits[best].coefficients,
    )


def _fit(variant: Variant, offsets: FloatArray, has_cue: BoolArray) -> Explained:
    values = (variant.values - offsets)[has_cue]
    return explained(values, variant.design[has_cue], variant.prior_mean, variant.prior_sd, variant.errors)
