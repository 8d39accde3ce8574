"""Published analyses, done again by the audit's own code. What was printed is said to be; the rest is computed."""

import numpy as np
import pytest

from service.audit.comparing import mean_of, paired, pooled, welch
from service.audit.intervals import normal_interval
from service.audit.trends import detrended_difference, trend
from service.audit.two_level import two_level_effects
from service.audit.variance import analysis_of_variance
from tests.audit.published import (
    EDIBLE_BY_TIME,
    LEFT_A,
    LEFT_B,
    PERCENT_LEFT,
    POPPED_BY_TIME,
    VOLUME_ML,
    YIELD_AIR_CUPS,
    YIELD_CUPS,
    YIELD_OIL_CUPS,
    by_time,
)

TRIALS = np.tile(np.arange(1.0, 7.0), 2)
BRANDS = ["A"] * 6 + ["B"] * 6


def test_brand_power_and_time() -> None:
    """Dean and Voss (1999), Table 7.2: sums of squares, F and p computed with statsmodels."""
    values, brand, power, time = by_time(POPPED_BY_TIME)
    table = analysis_of_variance(values, {"brand": brand, "power": power, "time": time})
    expected = {
        ("brand",): (331.1006, 2, 1.8886, 0.1801),
        ("power",): (455.1111, 1, 5.1918, 0.0351),
        ("time",): (1554.5756, 2, 8.8671, 0.0021),
        ("brand", "power"): (196.0406, 2, 1.1182, 0.3485),
        ("brand", "time"): (1433.8578, 4, 4.0893, 0.0157),
        ("power", "time"): (47.7089, 2, 0.2721, 0.7648),
        ("brand", "power", "time"): (47.3344, 4, 0.1350, 0.9673),
    }
    assert {term.factors for term in table.terms} == set(expected)
    for factors, (squares, df, f, p) in expected.items():
        term = table.of(*factors)
        assert (term.sum_of_squares, term.f, term.p) == pytest.approx((squares, f, p), abs=6e-5)
        assert term.df == df
    assert (table.residual_ss, table.residual_df) == (pytest.approx(1577.870), 18)
    assert table.mean == pytest.approx(72.194, abs=5e-4)


def test_brand_and_power_alone_leave_the_printed_error() -> None:
    """The two-way table of the same experiment: error mean square 155 on 30 degrees of freedom, cell means to 0.15."""
    values, brand, power, _ = by_time(POPPED_BY_TIME)
    table = analysis_of_variance(values, {"brand": brand, "power": power})
    assert table.residual_df == 30
    assert table.residual_ss / table.residual_df == pytest.approx(155.0, abs=0.5)
    means = [
        values[[one == key for one in zip(brand, power, strict=True)]].mean()
        for key in sorted(set(zip(brand, power, strict=True)))
    ]
    assert means == pytest.approx([76.0, 76.6, 67.0, 75.8, 63.0, 74.8], abs=0.15)


def test_brand_oil_and_time() -> None:
    """Dean and Voss (1999), Table 7.25: computed with statsmodels."""
    values, brand, oil, time = by_time(EDIBLE_BY_TIME)
    table = analysis_of_variance(values, {"brand": brand, "oil": oil, "time": time})
    expected = {
        ("brand",): (562.667, 4.5699, 0.0248),
        ("oil",): (79.507, 1.2915, 0.2707),
        ("time",): (708.792, 5.7567, 0.0117),
        ("brand", "oil"): (694.056, 5.6370, 0.0126),
        ("brand", "time"): (1796.292, 7.2946, 0.0011),
    }
    for factors, (squares, f, p) in expected.items():
        term = table.of(*factors)
        assert term.sum_of_squares == pytest.approx(squares, abs=6e-4)
        assert (term.f, term.p) == pytest.approx((f, p), abs=6e-5)
    squares = (
        table.of("oil", "time").sum_of_squares,
        table.of("brand", "oil", "time").sum_of_squares,
        table.residual_ss,
    )
    assert squares == pytest.approx((95.264, 187.986, 1108.125), abs=6e-4)


def test_yield_by_popper_and_brand() -> None:
    """Hogg and Ledolter (1987): F of 56.7, 32.4 and 0.3; the rest computed."""
    popper = np.repeat([1, 2], 3)[:, None].repeat(3, axis=1).ravel().tolist()
    brand = np.tile([1, 2, 3], 6).tolist()
    table = analysis_of_variance(YIELD_CUPS.ravel(), {"popper": popper, "brand": brand})
    assert [table.of(*names).f for names in (("brand",), ("popper",), ("popper", "brand"))] == pytest.approx(
        [56.7, 32.4, 0.3], abs=0.05
    )
    assert table.of("brand").p == pytest.approx(7.7e-7, rel=0.01)
    assert table.of("popper").p == pytest.approx(1e-4, rel=0.05)
    assert table.of("popper", "brand").p == pytest.approx(0.7462, abs=5e-5)
    assert (table.residual_ss, table.residual_df) == (pytest.approx(1.666667, abs=1e-6), 12)


def test_the_variant_of_the_yield_set_has_its_printed_answers() -> None:
    """Popper 2.0 (F 7.1994, p .020), brand F 30.20, interaction F .60 (p .564), error 3.3333 and total 22.4444 are printed."""
    values = np.array([YIELD_OIL_CUPS, YIELD_AIR_CUPS])
    popper, brand, _ = np.indices(values.shape)
    table = analysis_of_variance(values.ravel(), {"popper": popper.ravel().tolist(), "brand": brand.ravel().tolist()})
    assert table.of("popper").sum_of_squares == pytest.approx(2.0)
    assert (table.of("popper").f, table.of("popper").p) == pytest.approx((7.2, 0.020), abs=7e-4)
    assert table.of("brand").f == pytest.approx(30.2, abs=5e-3)
    assert (table.of("popper", "brand").f, table.of("popper", "brand").p) == pytest.approx((0.60, 0.564), abs=6e-4)
    assert (table.residual_ss, table.total_ss) == pytest.approx((3.3333, 22.4444), abs=5e-5)


def test_two_brands_compared() -> None:
    """Stat2Data, Popcorn: computed with scipy. Not paired the brands hardly differ, paired by trial they do."""
    unpaired = pooled(LEFT_A, LEFT_B, 0.95)
    assert unpaired.difference.value == pytest.approx(15.5)
    assert (unpaired.difference.t, unpaired.difference.p) == pytest.approx((2.17316, 0.05488), abs=5e-6)
    assert unpaired.difference.df == 10
    apart = welch(LEFT_A, LEFT_B, 0.95).difference
    assert (apart.df, apart.p) == pytest.approx((9.6268, 0.05590), abs=5e-5)
    together = paired(LEFT_A, LEFT_B, 0.95).difference
    assert (together.t, together.df, together.p) == pytest.approx((3.23315, 5, 0.02312), abs=5e-6)


def test_the_oven_that_warmed_up_is_found_out() -> None:
    """The same set: fewer kernels are left from trial to trial, and beside that trend the brands do differ."""
    values = np.concatenate((LEFT_A, LEFT_B))
    found = trend(values, TRIALS, BRANDS, 0.95)
    assert found.slope.value < 0.0
    assert found.slope.p < 0.05
    assert detrended_difference(values, TRIALS, BRANDS, 0.95).p < 0.05 < welch(LEFT_A, LEFT_B, 0.95).difference.p


def test_eight_bags() -> None:
    """A textbook's eight bags: mean 6.775 and standard deviation 3.6370 are printed, the interval is computed."""
    found = mean_of(PERCENT_LEFT, 0.95)
    assert (found.value, found.sd) == pytest.approx((6.775, 3.6370), abs=5e-5)
    assert found.interval is not None
    assert (found.interval.low, found.interval.high) == pytest.approx((3.7344, 9.8156), abs=5e-5)


def test_86_of_773_kernels() -> None:
    """A textbook's printed 90 % interval (0.0927, 0.1299), which is the normal one."""
    interval = normal_interval(86, 773, 0.90)
    assert (interval.low, interval.high) == pytest.approx((0.0927, 0.1299), abs=5e-5)


def test_two_to_the_fourth() -> None:
    """Rlab, popcorn: all fifteen effects, computed from the contrasts."""
    found = two_level_effects(VOLUME_ML, ("B", "T", "Q", "S"), 0.95)
    expected = {
        "B": 906.25, "T": -381.25, "Q": 1293.75, "S": 793.75, "BT": -93.75, "BQ": -168.75, "BS": 531.25, "TQ": 443.75,
        "TS": 243.75, "QS": 68.75, "BTQ": -18.75, "BTS": 131.25, "BQS": -443.75, "TQS": -31.25, "BTQS": -143.75,
    }  # fmt: skip
    assert found.mean == pytest.approx(2584.375)
    assert {"".join(name): effect.value for name, effect in found.effects.items()} == pytest.approx(expected)
