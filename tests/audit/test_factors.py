"""Labels taken together: an analysis of variance, or the effects of two values each."""

import numpy as np
import pytest

from service.audit.factors import factors_found
from service.outcomes.finished import FinishedCook
from service.outcomes.outcome import Outcome
from service.readings.cook import EMPTY
from service.readings.setup import Setup
from tests.audit.published import VOLUME_ML


def popped(volume_cm3: float, **labels: str) -> FinishedCook:
    """A bag of one gram, so that its expansion is its volume."""
    outcome = Outcome(volume_cm3=volume_cm3, grams_before=1.0, **labels)  # type: ignore[arg-type]
    return FinishedCook(setup=Setup(), cook=EMPTY, outcome=outcome)


HALF = [
    popped(float(volume), oven=str(place & 1), bag=str(place >> 1 & 1), policy=str(place >> 2 & 1))
    for place, volume in enumerate(VOLUME_ML[:8])
]


def test_each_combination_cooked_once_is_told_as_effects() -> None:
    """Rlab, popcorn: the half that was not shaken. Each effect is the mean of the differences between pairs, by hand."""
    found = factors_found(HALF, "expansion_cm3_per_g", 0.95)
    assert found is not None
    effects = {one.factors: one.effect.value for one in found.effects}
    cube = VOLUME_ML[:8].reshape(2, 2, 2)
    assert effects[("oven",)] == pytest.approx(float(np.diff(cube, axis=2).mean()))
    assert effects[("policy",)] == pytest.approx(float(np.diff(cube, axis=0).mean()))
    assert len(effects) == 7
    assert found.terms == ()


def test_the_order_of_the_cooks_does_not_matter() -> None:
    one, other = (
        factors_found([HALF[place] for place in order], "expansion_cm3_per_g", 0.95)
        for order in ([0, 1, 2, 3, 4, 5, 6, 7], [0, 5, 2, 7, 4, 1, 6, 3])
    )
    assert one is not None
    assert other is not None
    assert {one.factors: one.effect.value for one in one.effects} == pytest.approx(
        {one.factors: one.effect.value for one in other.effects}
    )


def test_one_label_alone_is_no_analysis() -> None:
    cooks = [popped(float(volume), bag=name) for volume, name in zip(VOLUME_ML, "AABBAABB", strict=False)]
    assert factors_found(cooks, "expansion_cm3_per_g", 0.95) is None


def test_without_scatter_to_test_against_nothing_is_said() -> None:
    cooks = [popped(1000.0 + place, oven=str(place // 3), bag=str(place % 3)) for place in range(9)]
    assert factors_found(cooks, "expansion_cm3_per_g", 0.95) is None
