import numpy as np
import pytest

from tests.simulation.shapes import COMPARED, shape_of, told
from tests.simulation.simulator import simulate


def test_the_shape_of_a_bag_is_read_off_its_truth() -> None:
    shape = shape_of(
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
            [shape_of(simulate("regular", seed, network=False, wide=wide).truth)[figure] for seed in range(30)]
        )
        for wide in (False, True)
    }
    assert spread[True] > least_share * spread[False]


def test_the_table_has_a_middle_and_a_spread_for_every_figure() -> None:
    truths = [simulate(kind, 0, network=False).truth for kind in COMPARED[:3]]
    title, heading, *rows = told("ours", truths).splitlines()
    assert title == "ours, 3 bags"
    assert heading.split() == ["middle", "spread"]
    assert len(rows) == len(shape_of(truths[0]))
    widths = np.array([shape_of(truth)["window of a good stop, s"] for truth in truths])
    (row,) = [row for row in rows if row.startswith("window of a good stop, s")]
    assert [float(value) for value in row.split()[-2:]] == pytest.approx(
        [widths.mean(), widths.std(ddof=1) / widths.mean()], abs=6e-4
    )
