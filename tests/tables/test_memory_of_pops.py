"""What was heard earlier counts for less than what was heard lately."""

import numpy as np
import pytest

from service.evidence.pop_grid import CLUTTER_SPAN, LOG_FIRST, LOG_LOWEST
from service.evidence.pop_times import BINS, LOWEST, STEP
from service.evidence.popping import WHOLE, Memory, heard_pops, pop_likelihood
from service.forecast.bag_prior import bag_prior
from service.forecast.popcorn_model import popcorn_model
from tests.cooks import POPCORN, FloatArray, drawn_pops_s

MODEL = popcorn_model(POPCORN)
PRIOR = bag_prior(MODEL.programme, MODEL.grid, None, None).pops
LATELY = Memory(least_share=0.15, half_pops=10.0, reach=0.15)
UNTIL_S = 130.0
ROWS = slice(60, 100, 1)


def pops_until(until_s: float, seed: int = 1) -> FloatArray:
    pops_s: FloatArray = drawn_pops_s(400, 100.0, 14.0, seed=seed)
    return pops_s[pops_s <= until_s]


def test_where_the_earlier_ones_count_in_full_nothing_is_forgotten() -> None:
    pops_s = pops_until(UNTIL_S)
    alike = pop_likelihood(MODEL.grid, PRIOR, heard_pops(pops_s, UNTIL_S, 0.04, Memory(1.0, 10.0, 0.15)), ROWS)
    whole = pop_likelihood(MODEL.grid, PRIOR, heard_pops(pops_s, UNTIL_S, 0.04, WHOLE), ROWS)
    assert np.array_equal(alike.log_likelihood, whole.log_likelihood)
    assert np.array_equal(alike.exposure, whole.cdf)


def test_it_is_the_likelihood_of_poisson_counts_with_a_weight_in_each_bin() -> None:
    """Bin by bin: w (n ln(a g) - a g), the number a integrated out with its Gamma prior; up to what is common to all."""
    edges_s = np.exp(LOG_FIRST + STEP * np.arange(160))
    until_s = float(edges_s[130])
    memory = Memory(least_share=0.1, half_pops=20.0, reach=8 * STEP)
    pops_s = pops_until(until_s)
    found = pop_likelihood(MODEL.grid, PRIOR, heard_pops(pops_s, until_s, 0.0, memory), ROWS)
    counts = np.histogram(pops_s, edges_s[:131])[0]
    weight = np.where(np.arange(130) < 122, memory.earlier_share(float(counts[:122].sum())), 1.0)
    expected = []
    for row, column in ((0, 3), (10, 7), (20, 12), (30, 5)):
        share = in_bins(ROWS.start + row, column)[:130]
        n, exposure = (weight * counts).sum(), (weight * share).sum()
        expected.append((weight * counts * np.log(share)).sum() - (n + PRIOR.shape) * np.log(exposure + PRIOR.rate))
    got = [found.log_likelihood[row, column] for row, column in ((0, 3), (10, 7), (20, 12), (30, 5))]
    assert np.diff(got) == pytest.approx(np.diff(expected), abs=0.3)


def in_bins(location: int, column: int) -> FloatArray:
    """Share of the pops of a column in each bin of ln u."""
    columns, forms = MODEL.grid.columns, MODEL.grid.forms
    clutter, form = float(columns.clutter[column]), int(columns.form[column])
    x = LOG_FIRST + STEP * np.arange(161) - (LOG_LOWEST + STEP * location)
    edges = LOWEST + STEP * np.arange(BINS + 1)
    popped = (1.0 - clutter) * np.interp(x, edges, forms.cdf[form])
    share: FloatArray = np.diff(popped + clutter * np.minimum(np.exp(x) / CLUTTER_SPAN, 1.0))
    return share


def test_what_counts_moves_without_a_jump_as_time_goes_by() -> None:
    """No pop comes in these ten seconds: the weighted number falls, by no more in a tenth of a second than its pops can."""
    pops_s = pops_until(125.0)
    moments_s = np.arange(126.0, 136.0, 0.1)
    weighted = np.array([heard_pops(pops_s, moment, 0.0, LATELY).weighted for moment in moments_s])
    steps = np.diff(weighted)
    assert (steps <= 1e-9).all()
    assert steps.min() > -3.0


def test_the_weighted_number_lies_between_the_least_share_of_all_and_all() -> None:
    for until_s in (80.0, 100.0, 130.0, 200.0):
        pops_s = pops_until(until_s)
        weighted = heard_pops(pops_s, until_s, 0.04, LATELY).weighted
        assert 0.15 * pops_s.size - 1e-9 <= weighted <= pops_s.size


def test_of_few_earlier_pops_nearly_all_count_and_of_many_the_least_share() -> None:
    assert LATELY.earlier_share(0.0) == 1.0
    assert LATELY.earlier_share(10.0) == pytest.approx((1.0 + 0.15) / 2.0)
    assert LATELY.earlier_share(1e9) == pytest.approx(0.15)
    falling = [LATELY.earlier_share(float(pops)) for pops in range(0, 500, 10)]
    assert falling == sorted(falling, reverse=True)


def most_likely_rate_per_s(pops_s: FloatArray, until_s: float, memory: Memory) -> float:
    """Pops a second expected at the end of listening, by the most likely cell."""
    found = pop_likelihood(MODEL.grid, PRIOR, heard_pops(pops_s, until_s, 0.0, memory), ROWS)
    row, column = divmod(int((found.log_likelihood + PRIOR.log_weight[ROWS]).argmax()), found.cdf.shape[1])
    number = (found.weighted_corrected + PRIOR.shape) / (found.exposure[row, column] + PRIOR.rate)
    last = found.columns.cdf_mixed.at(np.log(until_s) - 0.02, ROWS)[row, column]
    return float(number * (found.cdf[row, column] - last) / (until_s * (1.0 - np.exp(-0.02))))


def test_an_end_that_does_not_follow_from_the_beginning_is_followed_lately() -> None:
    """Half of the kernels pop within ten seconds before the middle, the rest die away as an exponential of 22 s after it."""
    true = 200.0 / 22.0 * np.exp(-40.0 / 22.0)
    off: dict[Memory, list[float]] = {WHOLE: [], LATELY: []}
    for seed in range(20):
        rng = np.random.default_rng(seed)
        pops_s = 100.0 + np.concatenate((-np.abs(10.0 * rng.normal(size=200)), rng.exponential(22.0, 200)))
        heard_s = np.sort(pops_s[pops_s <= 140.0])
        for memory, errors in off.items():
            errors.append(np.log(most_likely_rate_per_s(heard_s, 140.0, memory) / true))
    assert abs(np.mean(off[LATELY])) < 0.7 * abs(np.mean(off[WHOLE]))
