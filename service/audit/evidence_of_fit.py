"""How well a linear explanation predicts numbers, fairly whatever it can be bent to: its marginal likelihood.

Model. y = X b + e, with normal priors on the coefficients b and normal errors of one standard deviation, log-normal
beforehand. Both are integrated out: b exactly, the deviation over a grid. An explanation that could have fitted anything
has spread its probability thinly, which is the penalty for its freedom; no count of parameters is needed.

Range. Any number of values; up to a handful of coefficients.

Reference. D. J. C. MacKay (1992), Neural Computation 4:415-447.
"""

from dataclasses import dataclass
from math import log, pi

import numpy as np

from service.units import FloatArray

_DEVIATIONS = 31
_REACH = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorPrior:
    """Standard deviation of the errors: its median, the standard deviation of its logarithm, and what it never falls below."""

    median: float
    log_sd: float
    least: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Explained:
    """The logarithm of the marginal likelihood, the posterior means of the coefficients (p,), and of the deviation."""

    log_evidence: float
    coefficients: FloatArray
    error_sd: float


def explained(
    values: FloatArray, design: FloatArray, prior_mean: FloatArray, prior_sd: FloatArray, errors: ErrorPrior
) -> Explained:
    """Explain (n,) values by an (n, p) design with independent normal priors (p,) on its coefficients."""
    place = np.linspace(-_REACH, _REACH, _DEVIATIONS)
    log_weight = -0.5 * place**2
    log_weight -= np.log(np.exp(log_weight).sum())
    variance = (errors.median * np.exp(errors.log_sd * place)) ** 2 + errors.least**2
    scaled = design * prior_sd
    rest = values - design @ prior_mean
    gram, moment = scaled.T @ scaled, scaled.T @ rest
    inner = np.eye(gram.shape[0]) + gram / variance[:, None, None]
    solved = np.linalg.solve(inner, (moment / variance[:, None])[:, :, None])[:, :, 0]
    quadratic = float(rest @ rest) / variance - (solved @ moment) / variance
    _, log_determinant = np.linalg.slogdet(inner)
    log_evidence = log_weight - 0.5 * (values.size * np.log(2.0 * pi * variance) + log_determinant + quadratic)
    weight = np.exp(log_evidence - log_evidence.max())
    total = float(weight.sum())
    weight /= total
    return Explained(
        log_evidence=float(log_evidence.max()) + log(total),
        coefficients=prior_mean + prior_sd * (weight @ solved),
        error_sd=float(weight @ np.sqrt(variance)),
    )
