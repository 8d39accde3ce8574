"""What was found in a bag: shares and expansion follow from it, and the impossible is refused."""

import math

import pytest

from service.outcomes.finished import FinishedCook
from service.outcomes.outcome import ImpossibleOutcome, Outcome
from service.outcomes.shares import expansion_cm3_per_g, kernels_in, mass_lost_share, scorched, unpopped
from service.readings.cook import EMPTY, Cook
from service.readings.setup import Setup


def test_shares_are_of_the_kernels_that_were_counted() -> None:
    """A textbook's 86 of 773 kernels (11.1 %)."""
    outcome = Outcome(kernels_left=86, kernels_total=773, scorched_pieces=4)
    left, burnt = unpopped(outcome, None), scorched(outcome, None)
    assert left is not None
    assert burnt is not None
    assert left.value == pytest.approx(0.1113, abs=5e-5)
    assert not left.of_is_estimated
    assert burnt.value == pytest.approx(4 / 773)


def test_kernels_that_nobody_counted_are_estimated_from_the_mass() -> None:
    """P1's product popped at most 435 kernels of a bag (student project, Math 1040, 2012); bags of 85 g are sold as regular."""
    found = kernels_in(Outcome(), 85.0)
    assert found is not None
    assert found[0] == pytest.approx(435, rel=0.05)
    assert found[1]
    weighed = kernels_in(Outcome(grams_before=42.5), 85.0)
    assert weighed is not None
    assert weighed[0] == pytest.approx(found[0] / 2, abs=1)


def test_more_kernels_left_than_the_mass_allows_are_still_a_share() -> None:
    left = unpopped(Outcome(kernels_left=50), 5.0)
    assert left is not None
    assert left.value == 1.0


def test_expansion_is_volume_over_what_went_in() -> None:
    """Invented: 85 g that pop to 2.8 litres; published optima lie at 33 cm3/g for a microwave oven."""
    outcome = Outcome(volume_cm3=2800.0, grams_before=85.0, grams_after=78.2)
    assert expansion_cm3_per_g(outcome, None) == pytest.approx(32.9, abs=0.05)
    assert mass_lost_share(outcome) == pytest.approx(0.08)
    assert expansion_cm3_per_g(Outcome(volume_cm3=2800.0), None) is None
    assert expansion_cm3_per_g(Outcome(volume_cm3=2800.0), 100.0) == pytest.approx(28.0)


def test_what_nobody_looked_at_is_not_guessed() -> None:
    outcome = Outcome()
    assert unpopped(outcome, 85.0) is None
    assert scorched(outcome, 85.0) is None
    assert mass_lost_share(outcome) is None
    assert kernels_in(outcome, None) is None


@pytest.mark.parametrize(
    ("found", "what"),
    [
        ({"kernels_left": -1}, "kernels_left"),
        ({"kernels_left": 8, "kernels_total": 7}, "at most kernels_total"),
        ({"scorched_pieces": 8, "kernels_total": 7}, "at most kernels_total"),
        ({"grams_before": 80.0, "grams_after": 81.0}, "at most grams_before"),
        ({"volume_cm3": math.nan}, "volume_cm3"),
        ({"volume_cm3": math.inf}, "volume_cm3"),
        ({"stopped_s": 7201.0, "stopped_by": "oven"}, "7200"),
        ({"good_stop_s": 7201.0}, "7200"),
        ({"stopped_s": 100.0}, "both or neither"),
        ({"stopped_by": "person"}, "both or neither"),
        ({"stopped_s": 100.0, "stopped_by": "cat"}, "oven, person, service"),
    ],
)
def test_the_impossible_is_refused(found: dict[str, object], what: str) -> None:
    with pytest.raises(ImpossibleOutcome, match=what):
        Outcome(**found)  # type: ignore[arg-type]


def test_a_cook_ends_with_its_stop_or_with_its_newest_reading() -> None:
    cook = Cook.of(pops_s=[80.0, 95.5])
    ended = FinishedCook(setup=Setup(), cook=cook, outcome=Outcome(stopped_s=90.0, stopped_by="person"))
    assert ended.end_ms() == 90_000
    assert FinishedCook(setup=Setup(), cook=cook, outcome=Outcome()).end_ms() == 95_500
    assert FinishedCook(setup=Setup(), cook=EMPTY, outcome=Outcome()).end_ms() == 0


def test_a_weighed_bag_counts_before_a_printed_one() -> None:
    weighed = FinishedCook(setup=Setup(load_g=85.0), cook=EMPTY, outcome=Outcome(grams_before=83.1))
    assert weighed.load_g() == 83.1
    assert FinishedCook(setup=Setup(load_g=85.0), cook=EMPTY, outcome=Outcome()).load_g() == 85.0
