"""Probabilities of a Poisson number against those of scipy."""

import pytest
from scipy import stats

from service.evidence.poisson import probability_of_at_least, probability_of_at_most


@pytest.mark.parametrize("number", [0, 1, 3, 9, 16])
@pytest.mark.parametrize("expected", [0.0, 0.01, 0.4, 2.0, 20.0, 100.0])
def test_at_most_so_many_are_as_probable_as_scipy_says(number: int, expected: float) -> None:
    assert probability_of_at_most(number, expected) == pytest.approx(
        float(stats.poisson.cdf(number, expected)), rel=1e-9
    )


@pytest.mark.parametrize("number", [0, 1, 3, 9, 16])
@pytest.mark.parametrize("share", [0.001, 0.05, 0.3, 0.9, 1.0, 2.0])
def test_at_least_so_many_are_so_where_that_is_rare_and_never_less_probable(number: int, share: float) -> None:
    """The tail is bounded by a geometric series, which is close where few are expected, and 1 is a bound from the mean on."""
    expected = share * number
    told, exact = probability_of_at_least(number, expected), float(stats.poisson.sf(number - 1, expected))
    assert exact * (1.0 - 1e-9) <= told <= 1.0
    if share <= 0.3:
        assert told == pytest.approx(exact, rel=0.05)
