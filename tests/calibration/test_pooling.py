"""Partial pooling: between the default and the cooks, sure of neither, and better than both."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from service.calibration.pooling import Before, fitted_on_grid, log_normal_grid, pool

BEFORE = Before(default=0.3, between_sd=0.05, within_sd=0.05, weight=8.0)
REPETITIONS = 1000
logs = st.lists(st.floats(-2.0, 2.0), min_size=1, max_size=30)


@given(logs)
def test_the_pooled_value_lies_between_the_default_and_what_the_cooks_show(shown: list[float]) -> None:
    mean = float(np.mean(shown))
    pooled = pool(np.array(shown), BEFORE)
    assert min(mean, 0.3) - 1e-9 <= pooled.mean <= max(mean, 0.3) + 1e-9
    assert 0.0 < pooled.sd < BEFORE.between_sd
    assert pooled.cooks == len(shown)


def test_without_cooks_the_default_stands() -> None:
    pooled = pool(np.empty(0), BEFORE)
    assert (pooled.mean, pooled.within_sd) == pytest.approx((0.3, 0.05))
    assert pooled.sd == pytest.approx(0.05)


@given(st.floats(-0.2, 0.8), st.integers(1, 20))
def test_more_cooks_that_agree_are_believed_more(shown: float, cooks: int) -> None:
    fewer, more = pool(np.full(cooks, shown), BEFORE), pool(np.full(cooks + 1, shown), BEFORE)
    assert abs(more.mean - shown) <= abs(fewer.mean - shown) + 1e-12
    assert more.sd < fewer.sd


def test_three_cooks_that_happen_to_agree_do_not_claim_to_be_sure() -> None:
    """Three equal ratios still leave most of the usual scatter of an oven's cooks."""
    assert pool(np.full(3, 0.4), BEFORE).within_sd > 0.8 * BEFORE.within_sd


@pytest.mark.parametrize("cooks", [3, 10])
def test_pooled_intervals_cover_what_they_say_and_pooling_beats_both_ends(cooks: int) -> None:
    """Simulated ovens and cooks: the true value, and how far the three ways of estimating it are off."""
    random = np.random.default_rng(cooks)
    held, errors = 0, {"pooled": [], "cooks alone": [], "default": []}
    for _ in range(REPETITIONS):
        truth = random.normal(BEFORE.default, BEFORE.between_sd)
        shown = random.normal(truth, BEFORE.within_sd, cooks)
        pooled = pool(shown, BEFORE)
        fitted = pooled.value(0.95)
        held += bool(fitted.low is not None and fitted.high is not None and fitted.low <= np.exp(truth) <= fitted.high)
        for name, guess in (("pooled", pooled.mean), ("cooks alone", shown.mean()), ("default", BEFORE.default)):
            errors[name].append((guess - truth) ** 2)
    squares = {name: np.mean(every) for name, every in errors.items()}
    assert held / REPETITIONS == pytest.approx(0.95, abs=0.02)
    assert squares["pooled"] < min(squares["cooks alone"], squares["default"])


def test_the_spread_of_the_next_cook_covers_what_it_says() -> None:
    """The next cook's value falls within two spreads of the pooled one as often as a normal does."""
    random = np.random.default_rng(5)
    held = 0
    for _ in range(REPETITIONS):
        truth = random.normal(BEFORE.default, BEFORE.between_sd)
        pooled = pool(random.normal(truth, BEFORE.within_sd, 5), BEFORE)
        held += abs(random.normal(truth, BEFORE.within_sd) - pooled.mean) < 1.96 * pooled.spread_of_next(0.95).value
    assert held / REPETITIONS == pytest.approx(0.95, abs=0.02)


def test_a_grid_gives_back_its_prior() -> None:
    values, log_weight = log_normal_grid(4.0, 0.5)
    fitted = fitted_on_grid(values, log_weight, 3, 0.95)
    assert fitted.value == pytest.approx(4.0, rel=1e-3)
    assert (fitted.low, fitted.high) == pytest.approx(tuple(stats.lognorm.interval(0.95, 0.5, scale=4.0)), rel=0.01)


def test_counts_on_a_grid_cover_what_they_say() -> None:
    """A rate drawn from the prior, counted in 400 s: its interval from the posterior."""
    random = np.random.default_rng(6)
    values, prior = log_normal_grid(0.012, 1.2)
    held = 0
    for _ in range(REPETITIONS):
        rate = 0.012 * float(np.exp(1.2 * random.normal()))
        count = random.poisson(rate * 400.0)
        fitted = fitted_on_grid(values, prior + count * np.log(values) - values * 400.0, 5, 0.95)
        held += bool(fitted.low is not None and fitted.high is not None and fitted.low <= rate <= fitted.high)
    assert held / REPETITIONS == pytest.approx(0.95, abs=0.02)
