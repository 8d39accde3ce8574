import numpy as np
import pytest

from tests.simulation.reheats import simulate_reheat
from tests.simulation.shapes import COMPARED, shape_of_bag, shape_of_meal, spread_left_of_meals, told
from tests.simulation.simulator import simulate


def test_the_shape_of_a_bag_is_read_off_its_truth() -> None:
    shape = shape_of_bag(
        {
            "true_pops_s": [80.0, 90.0, 100.0, 110.0, 140.0],
            "typical_first_two_second_silence_s": 150.0,
            "bag_opened_s": 100.0,
            "stop_window_s": [145.0, 160.0],
            "kernels": 10,
            "never_pop": 5,
        }
    )
    assert list(shape.values()) == pytest.approx([100.0, 0.44, 0.16, 0.4, 1.5, 1.5, 15.0, 0.5])


@pytest.mark.parametrize(
    ("figure", "least_share"),
    [("10 to 90 % of the pops, of the median", 1.4), ("typical end, of the median pop", 1.1)],
)
def test_bags_differ_more_over_the_wide_ranges(figure: str, least_share: float) -> None:
    spread = {
        wide: np.std(
            [shape_of_bag(simulate("regular", seed, network=False, wide=wide).truth)[figure] for seed in range(30)]
        )
        for wide in (False, True)
    }
    assert spread[True] > least_share * spread[False]


@pytest.mark.parametrize("program", COMPARED)
def test_the_table_has_a_middle_and_a_spread_for_every_figure(program: str) -> None:
    compared = COMPARED[program]
    truths = [compared.truth_of(kind, 0, False) for kind in compared.kinds[:4]]
    title, heading, *rows = told("ours", compared, truths).splitlines()
    assert title == "ours, 4 cooks"
    assert heading.split() == ["middle", "spread"]
    figures = list(compared.shape_of(truths[0]))
    left = [] if compared.spread_left is None else list(compared.spread_left(truths).items())
    for (figure, value), row in zip(left, rows[len(figures) :], strict=True):
        assert row.startswith(figure)
        assert float(row.split()[-1]) == pytest.approx(value, abs=6e-4)
    for figure, row in zip(figures, rows[: len(figures)], strict=True):
        values = np.array([compared.shape_of(truth)[figure] for truth in truths])
        assert row.startswith(figure)
        assert [float(value) for value in row.split()[-2:]] == pytest.approx(
            [values.mean(), values.std(ddof=1) / values.mean()], abs=6e-4
        )


def test_the_shape_of_a_meal_is_read_off_its_truth() -> None:
    shape = shape_of_meal(
        {"stop_window_s": [150.0, 180.0], "steam_began_s": 120.0, "rated_w": 1000, "load_g": 400.0, "start_c": 5.0}
    )
    assert list(shape.values()) == pytest.approx([120.0, 1.25, 1.2, 300.0])


def test_a_spread_that_goes_with_what_is_known_is_not_left() -> None:
    """Meals whose cores are hot at a power of the time to steam, and whose heat follows from their start and their load."""
    truths = []
    for steams_s, start_c, load_g in (
        (60.0, 5.0, 200.0),
        (90.0, 20.0, 300.0),
        (130.0, 3.0, 500.0),
        (200.0, 12.0, 420.0),
    ):
        heat_j_g = 3.0 * (100.0 - start_c) ** 1.2 * np.exp(50.0 / load_g)
        truths.append(
            {
                "stop_window_s": [2.0 * steams_s**0.9, 3.0 * steams_s],
                "steam_began_s": steams_s,
                "start_c": start_c,
                "load_g": load_g,
                "rated_w": heat_j_g * load_g / steams_s,
            }
        )
    assert list(spread_left_of_meals(truths).values()) == pytest.approx([0.0, 0.0], abs=1e-9)
    truths[0]["stop_window_s"][0] *= 1.2
    assert spread_left_of_meals(truths)["core hot, the time to steam being known"] > 0.05


def test_meals_differ_more_over_the_wide_ranges() -> None:
    left = {
        wide: spread_left_of_meals([simulate_reheat("plate", seed, False, wide=wide).truth for seed in range(60)])
        for wide in (False, True)
    }
    for figure, usual in left[False].items():
        assert left[True][figure] > 1.1 * usual
