"""Fixed times of bags whose size nobody said: which cook has which setting, as the steam tells of the size."""

from itertools import permutations, product
from math import exp
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.audit.unsaid_sizes import log_probability_of_settings

SPREAD = 0.06
ONSETS_S = (60.0, 63.0, 95.0, 99.0, 130.0)


def probability(onsets_s: list[float], of_each: list[int]) -> float:
    return exp(log_probability_of_settings(np.log(onsets_s), np.array(of_each), SPREAD))


def test_settings_in_the_order_of_the_onsets_are_likelier_than_any_other() -> None:
    in_order = probability(list(ONSETS_S), [0, 0, 1, 1, 2])
    others = {one for one in permutations((0, 0, 1, 1, 2)) if one != (0, 0, 1, 1, 2)}
    assert in_order > 100.0 * max(probability(list(ONSETS_S), list(one)) for one in others)


def test_onsets_that_are_alike_tell_nothing_of_the_setting() -> None:
    same = [probability([90.0] * 4, list(one)) for one in set(permutations((0, 0, 1, 1)))]
    assert same == pytest.approx([same[0]] * len(same))


@pytest.mark.parametrize("most", [1, 2])
def test_all_ways_to_set_the_cooks_share_one_probability(most: int) -> None:
    """Those in which the longest time is not used at all are what is left over."""
    ways = [one for one in product(range(most + 1), repeat=4) if max(one) == most]
    total = sum(probability([60.0, 80.0, 85.0, 110.0], list(one)) for one in ways)
    assert 0.5 < total <= 1.0 + 1e-6


def test_a_cook_without_an_onset_may_have_any_setting() -> None:
    seen = probability([60.0, 62.0, 100.0], [0, 0, 1])
    assert probability([60.0, 62.0, 100.0, float("nan")], [0, 0, 1, 0]) == pytest.approx(seen / 2.0)
    assert probability([60.0, 62.0, 100.0, float("nan")], [0, 0, 1, 1]) == pytest.approx(seen / 2.0)


@settings(max_examples=30)
@given(st.lists(st.tuples(st.floats(20.0, 600.0), st.integers(0, 9)), min_size=2, max_size=40), st.randoms())
def test_the_order_of_the_cooks_does_not_matter_and_nothing_is_certain(
    cooks: list[tuple[float, int]], random: Random
) -> None:
    onsets_s, of_each = (list(one) for one in zip(*cooks, strict=True))
    mixed = random.sample(cooks, len(cooks))
    found = log_probability_of_settings(np.log(onsets_s), np.array(of_each), SPREAD)
    again = log_probability_of_settings(
        np.log([onset_s for onset_s, _ in mixed]), np.array([one for _, one in mixed]), SPREAD
    )
    assert np.isfinite(found)
    assert found <= 1e-9
    assert again == pytest.approx(found)
