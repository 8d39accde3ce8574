"""Trends, unbalanced analyses of variance and raised p-values against statsmodels, on random sets."""

import numpy as np
import pandas
import pytest
from statsmodels.formula import api
from statsmodels.stats import anova, multitest, proportion

from service.audit.groups import holm
from service.audit.intervals import exact_interval, wilson_interval
from service.audit.trends import detrended_difference, trend
from service.audit.variance import analysis_of_variance

SEEDS = range(4)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_trend_and_the_difference_beside_it(seed: int) -> None:
    random = np.random.default_rng(seed)
    groups = [*random.choice(["one", "other"], 14).tolist(), "one", "other"]
    trials = random.integers(1, 8, 16).astype(np.float64)
    values = 0.8 * trials + 3.0 * np.array([group == "other" for group in groups]) + random.normal(0.0, 2.0, 16)
    fitted = api.ols("y ~ trial + C(group)", pandas.DataFrame({"y": values, "trial": trials, "group": groups})).fit()
    slope = trend(values, trials, groups, 0.95).slope
    assert (slope.value, slope.p) == pytest.approx((fitted.params["trial"], fitted.pvalues["trial"]))
    assert (slope.interval.low, slope.interval.high) == pytest.approx(tuple(fitted.conf_int().loc["trial"]))
    beside = detrended_difference(values, trials, groups, 0.95)
    sign = 1.0 if groups[0] == "one" else -1.0
    expected = (fitted.params["C(group)[T.other]"], fitted.pvalues["C(group)[T.other]"])
    assert (sign * beside.value, beside.p) == pytest.approx(expected)


@pytest.mark.parametrize("seed", SEEDS)
def test_an_unbalanced_analysis_of_variance(seed: int) -> None:
    """anova_lm of statsmodels, type II, on a random set with unequal cells."""
    random = np.random.default_rng(seed)
    frame = pandas.DataFrame(
        {
            "brand": random.choice(["x", "y", "z"], 40),
            "power": random.choice([500, 625], 40),
            "y": random.normal(70.0, 9.0, 40),
        }
    )
    expected = anova.anova_lm(api.ols("y ~ C(brand, Sum) * C(power, Sum)", frame).fit(), typ=2)
    table = analysis_of_variance(
        frame["y"].to_numpy(), {"brand": frame["brand"].tolist(), "power": frame["power"].tolist()}
    )
    rows = {
        ("brand",): "C(brand, Sum)",
        ("power",): "C(power, Sum)",
        ("brand", "power"): "C(brand, Sum):C(power, Sum)",
    }
    for factors, row in rows.items():
        term = table.of(*factors)
        assert (term.sum_of_squares, term.df) == pytest.approx((expected.loc[row, "sum_sq"], expected.loc[row, "df"]))
        assert (term.f, term.p) == pytest.approx((expected.loc[row, "F"], expected.loc[row, "PR(>F)"]))
    assert table.residual_ss == pytest.approx(expected.loc["Residual", "sum_sq"])


@pytest.mark.parametrize("count", [1, 2, 5, 12])
def test_raised_p_values(count: int) -> None:
    p_values = np.random.default_rng(count).uniform(0.0, 0.3, count).tolist()
    assert holm(p_values) == pytest.approx(multitest.multipletests(p_values, method="holm")[1].tolist())


@pytest.mark.parametrize(("count", "of"), [(0, 12), (1, 12), (86, 773), (20_000, 1_000_000)])
def test_intervals_of_a_share(count: int, of: int) -> None:
    for method, ours in (("beta", exact_interval), ("wilson", wilson_interval)):
        expected = [float(end) for end in proportion.proportion_confint(count, of, alpha=0.05, method=method)]
        found = ours(count, of, 0.95)
        assert [found.low, found.high] == pytest.approx(expected, abs=1e-9)
