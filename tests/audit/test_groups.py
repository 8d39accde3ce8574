"""Groups of cooks compared: paired where they are, a trend named, and what else differs told."""

from collections.abc import Sequence

import pytest

from service.audit.groups import compare_groups, holm
from service.outcomes.finished import FinishedCook
from service.outcomes.outcome import Outcome
from service.readings.cook import EMPTY
from service.readings.setup import Setup
from tests.audit.published import LEFT_A, LEFT_B


def opened(**found: object) -> FinishedCook:
    return FinishedCook(setup=Setup(), cook=EMPTY, outcome=Outcome(**found))  # type: ignore[arg-type]


def bags(name: str, left: Sequence[float], *, trials: bool = True, **labels: object) -> list[FinishedCook]:
    return [
        opened(bag=name, kernels_left=int(count), trial=trial + 1 if trials else None, **labels)
        for trial, count in enumerate(left)
    ]


BRANDS = [*bags("A", LEFT_A), *bags("B", LEFT_B)]


def test_two_brands_in_the_same_trials_are_paired_and_the_warming_oven_is_named() -> None:
    """R package Stat2Data, Popcorn: p = 0.02312 for the pairs, and fewer kernels from trial to trial."""
    (found,) = compare_groups(BRANDS, "bag", "kernels_left", 0.95)
    assert found.because == "the cooks are paired"
    assert found.decides.p == pytest.approx(0.02312, abs=5e-6)
    assert found.trend is not None
    assert found.trend.slope.p < 0.05
    assert "15.5 kernels more" in found.says
    assert "trial to trial" in found.says


def test_without_partners_the_trend_is_taken_out() -> None:
    """The same bags, one missing: what decides is the difference beside the trend, not the one that it hides."""
    (found,) = compare_groups(BRANDS[:-1], "bag", "kernels_left", 0.95)
    assert found.paired is None
    assert found.decides == found.detrended
    assert "the change is taken out" in found.because


def test_without_numbered_trials_welchs_test_decides() -> None:
    cooks = [*bags("A", LEFT_A, trials=False), *bags("B", LEFT_B, trials=False)]
    (found,) = compare_groups(cooks, "bag", "kernels_left", 0.95)
    assert found.decides == found.welch.difference
    assert found.decides.p == pytest.approx(0.05590, abs=5e-6)
    assert found.trend is None


def test_what_else_differs_is_told() -> None:
    cooks = [*bags("A", LEFT_A, oven="old"), *bags("B", LEFT_B, oven="new")]
    (found,) = compare_groups(cooks, "bag", "kernels_left", 0.95)
    assert found.also_differ == ("oven",)
    assert "oven" in found.says
    assert found.paired is None


def test_a_group_of_one_bag_and_bags_without_the_number_are_left_out() -> None:
    assert not compare_groups([*bags("A", LEFT_A), *bags("B", [3.0])], "bag", "kernels_left", 0.95)
    assert not compare_groups(BRANDS, "bag", "expansion_cm3_per_g", 0.95)
    assert not compare_groups(BRANDS, "oven", "kernels_left", 0.95)


def test_of_three_groups_all_pairs_are_compared_and_their_p_raised() -> None:
    cooks = [*BRANDS, *bags("C", LEFT_A + 4.0)]
    found = compare_groups(cooks, "bag", "kernels_left", 0.95)
    assert [(one.first, one.second) for one in found] == [("A", "B"), ("A", "C"), ("B", "C")]
    assert [one.adjusted_p for one in found] == holm([one.decides.p for one in found])
    assert all(one.adjusted_p >= one.decides.p for one in found)


def test_the_smallest_of_p_values_is_raised_most() -> None:
    """Holm (1979), by hand: 3 x 0.01, then 2 x 0.03, and never less than the one before."""
    assert holm([0.03, 0.01, 0.04]) == pytest.approx([0.06, 0.03, 0.06])
    assert holm([0.9, 0.8]) == [1.0, 1.0]
