"""The regularised incomplete beta function and its inverse: all that the binomial, Student's t and Fisher's F need.

Model. I_x(a, b) is the continued fraction of the Gauss hypergeometric function, evaluated by Lentz's method where it
converges fast (x below the mean) and by 1 - I_{1-x}(b, a) elsewhere.

Range. a, b > 0 up to about 1e9, where the logarithm of the gamma function still leaves six digits; twelve up to 1e4. An inverse
is good to about 1e-15 of itself; where it lies next to 1 and b is below about one half, its own last digit moves the
probability by more than that.

References. M. Abramowitz and I. A. Stegun (1964), Handbook of Mathematical Functions, 26.5.8; W. J. Lentz (1976),
Appl. Opt. 15:668-671.
"""

from math import exp, lgamma, log, log1p, sqrt

_TINY = 1e-300
_CLOSE = 1e-15
_MOST_STEPS = 200_000
_MOST_HALVINGS = 200


def incomplete_beta(a: float, b: float, x: float) -> float:
    """I_x(a, b), from 0 at x = 0 to 1 at x = 1. Raises ValueError for a or b that is not above 0, or x outside 0 to 1."""
    if not (a > 0.0 and b > 0.0 and 0.0 <= x <= 1.0):
        raise ValueError(f"an incomplete beta needs a, b > 0 and x from 0 to 1; got a = {a}, b = {b}, x = {x}")
    if x in (0.0, 1.0):
        return x
    front = exp(_log_front(a, b, x))
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _fraction(a, b, x) / a
    return 1.0 - front * _fraction(b, a, 1.0 - x) / b


def inverse_incomplete_beta(a: float, b: float, probability: float) -> float:
    """The x at which I_x(a, b) is `probability`: Newton's steps, halved where they would leave the bracket."""
    if not 0.0 <= probability <= 1.0:
        raise ValueError(f"a probability is from 0 to 1; got {probability}")
    if probability in (0.0, 1.0):
        return probability
    low, high = 0.0, 1.0
    x = min(a / (a + b), _near_zero(a, b, probability))
    for _ in range(_MOST_HALVINGS):
        excess = incomplete_beta(a, b, x) - probability
        low, high = (low, x) if excess > 0.0 else (x, high)
        step = _newton(a, b, x, excess)
        # Next to zero only ratios matter, so the bracket is halved on the scale that it spans.
        middle = sqrt(low * high) if low > 0.0 and high > 16.0 * low else (low + high) / 2.0
        following = step if step is not None and low < step < high else middle
        if abs(following - x) <= _CLOSE * x:
            return following
        x = following
    return x


def _near_zero(a: float, b: float, probability: float) -> float:
    """The inverse by the first term of the series, x^a / (a B(a, b)), which is where it lies next to zero."""
    log_x = (log(probability) + log(a) + lgamma(a) + lgamma(b) - lgamma(a + b)) / a
    return exp(min(max(log_x, log(_TINY)), 0.0))


def _newton(a: float, b: float, x: float, excess: float) -> float | None:
    slope = exp(min(_log_front(a, b, x) - log(x) - log1p(-x), 700.0))
    return x - excess / slope if slope > _TINY else None


def _log_front(a: float, b: float, x: float) -> float:
    return lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x)


def _fraction(a: float, b: float, x: float) -> float:
    """The continued fraction, by Lentz's method."""
    c, d = 1.0, 1.0 / _away(1.0 - (a + b) * x / (a + 1.0))
    value = d
    for m in range(1, _MOST_STEPS):
        even = m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m))
        d, c = 1.0 / _away(1.0 + even * d), _away(1.0 + even / c)
        value *= d * c
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0))
        d, c = 1.0 / _away(1.0 + odd * d), _away(1.0 + odd / c)
        value *= d * c
        if abs(d * c - 1.0) < _CLOSE:
            break
    return value


def _away(value: float) -> float:
    return value if abs(value) > _TINY else _TINY
