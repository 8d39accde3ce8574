"""How probable few or many of a Poisson number are, which is what independent events come to in a while.

Model. A number k has the probability exp(-m) m^k / k!, m being the expected one.

Range. Numbers of 0 to some dozens, any expected number from 0 on; far from it the terms underflow to 0, which is what they are.
"""

from math import exp


def probability_of_at_least(number: int, expected: float) -> float:
    """That of at least so many: bounded by a geometric series, close where far fewer are expected; 1 from the mean on."""
    if expected >= number:
        return 1.0
    term = exp(-expected)
    for counted in range(1, number + 1):
        term *= expected / counted
    return min(term / (1.0 - expected / (number + 1)), 1.0)


def probability_of_at_most(number: int, expected: float) -> float:
    """That of at most so many."""
    term = total = exp(-expected)
    for counted in range(1, number + 1):
        term *= expected / counted
        total += term
    return total
