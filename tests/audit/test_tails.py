"""The incomplete beta function, Student's t and Fisher's F against scipy, and the laws that they obey."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special, stats

from service.audit.incomplete_beta import incomplete_beta, inverse_incomplete_beta
from service.audit.tails import f_tail, t_quantile, t_two_tails

shapes = st.floats(0.1, 5e3)
shares = st.floats(1e-6, 1.0 - 1e-6)


@given(shapes, shapes, shares)
def test_the_incomplete_beta_is_that_of_scipy(a: float, b: float, x: float) -> None:
    assert incomplete_beta(a, b, x) == pytest.approx(float(special.betainc(a, b, x)), rel=1e-8, abs=1e-200)


@given(shapes, shapes, shares)
def test_the_inverse_leads_back(a: float, b: float, probability: float) -> None:
    """To six digits, or as far as the last digits of a number next to 1 allow."""
    x = inverse_incomplete_beta(a, b, probability)
    below, above = incomplete_beta(a, b, x * (1.0 - 2e-15)), incomplete_beta(a, b, min(x * (1.0 + 2e-15), 1.0))
    assert below * (1.0 - 1e-6) <= probability <= above * (1.0 + 1e-6)


def test_an_inverse_next_to_zero_is_found_too() -> None:
    for a, b, probability in ((0.1, 3.0, 1e-6), (0.1, 0.1, 1e-12), (0.02, 400.0, 0.025)):
        expected = float(special.betaincinv(a, b, probability))
        assert inverse_incomplete_beta(a, b, probability) == pytest.approx(expected, rel=1e-3)
        assert incomplete_beta(a, b, inverse_incomplete_beta(a, b, probability)) == pytest.approx(probability, rel=1e-9)


@pytest.mark.parametrize("df", [1.0, 2.0, 5.0, 9.6268, 30.0, 1e4])
def test_students_t_is_that_of_scipy(df: float) -> None:
    for probability in (1e-5, 0.025, 0.3, 0.5, 0.9, 0.975, 0.9999):
        t = float(stats.t.ppf(probability, df))
        assert t_quantile(probability, df) == pytest.approx(t, rel=1e-9, abs=1e-9)
        assert t_two_tails(t, df) == pytest.approx(2.0 * min(probability, 1.0 - probability), rel=1e-8)


@pytest.mark.parametrize(("numerator", "denominator"), [(1, 5), (2, 12), (4, 18), (7, 200)])
def test_fishers_f_is_that_of_scipy(numerator: int, denominator: int) -> None:
    for f in np.geomspace(1e-3, 80.0, 12):
        expected = float(stats.f.sf(f, numerator, denominator))
        assert f_tail(float(f), numerator, denominator) == pytest.approx(expected, rel=1e-9)


def test_impossible_arguments_are_refused() -> None:
    with pytest.raises(ValueError, match="a, b > 0"):
        incomplete_beta(0.0, 1.0, 0.5)
    with pytest.raises(ValueError, match="probability"):
        inverse_incomplete_beta(1.0, 1.0, 1.5)
    with pytest.raises(ValueError, match="probability"):
        t_quantile(1.0, 4.0)
