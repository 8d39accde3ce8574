"""A set of cooks audited as a whole, and what other rules would have done to them."""

from functools import cache

import numpy as np
import pytest

from service.audit.audit import AuditedCook, audit, audit_cook
from service.audit.other_stops import OtherStop, other_stops, our_stop_s
from service.outcomes.finished import FinishedCook
from service.outcomes.outcome import Outcome
from service.programs.programme import shipped
from service.readings.cook import EMPTY, Cook
from service.readings.setup import Setup
from tests.audit.controls import CONTROLS
from tests.calibration.one_oven import BagCooked, bag_in, drawn_oven

POPCORN = shipped()["popcorn"]
SIZES = ("snack", "regular", "jumbo")


def opened(bag: BagCooked, stop_s: float, oven: str, trial: int) -> FinishedCook:
    """The bag as it was stopped, with its kernels counted."""
    stop_s = round(stop_s, 1)
    left = bag.kernels - int(np.count_nonzero(bag.popped_s < stop_s))
    outcome = Outcome(
        stopped_s=stop_s,
        stopped_by="oven",
        kernels_left=left,
        kernels_total=bag.kernels,
        scorched_pieces=0,
        oven=oven,
        bag=bag.size,
        trial=trial,
    )
    return FinishedCook(setup=Setup(rated_w=bag.rated_w, load_g=bag.printed_g), cook=bag.cook, outcome=outcome)


@cache
def finished() -> tuple[FinishedCook, ...]:
    """Six bags each in an oven with a timer and in one that follows the steam."""
    cooks = []
    for place, (oven, control) in enumerate({"timed": "timer", "steamed": "steam-ratio"}.items()):
        bags = [bag_in(drawn_oven(20 + place), SIZES[trial % 3], 40 + trial) for trial in range(6)]
        stops_s = CONTROLS[control][1](bags, np.random.default_rng(7))
        cooks += [
            opened(bag, min(stop_s, bag.until_s), oven, trial)
            for trial, (bag, stop_s) in enumerate(zip(bags, stops_s, strict=True))
        ]
    return tuple(cooks)


@cache
def audited() -> tuple[AuditedCook, ...]:
    return tuple(audit_cook(cook, POPCORN) for cook in finished())


def test_each_ovens_control_is_judged_by_its_own_cooks() -> None:
    controls = {one.oven: one.control for one in audit(audited()).controls}
    assert controls["timed"].follows == "timer"
    assert controls["steamed"].follows == "steam"
    assert all(control.cooks == 6 and control.sizes == 3 for control in controls.values())


def test_the_whole_and_each_group_is_told() -> None:
    groups = audit(audited()).groups
    assert [(one.by, one.name, one.cooks) for one in groups] == [
        (None, "all", 12), ("oven", "timed", 6), ("oven", "steamed", 6),
        ("bag", "snack", 4), ("bag", "regular", 4), ("bag", "jumbo", 4),
    ]  # fmt: skip
    whole = groups[0].unpopped
    assert whole is not None
    assert whole.count == sum(one.finished.outcome.kernels_left or 0 for one in audited())
    assert whole.allowing_for_bags is not None
    assert whole.allowing_for_bags.holds(whole.value)


def test_the_two_ovens_are_compared_bag_by_bag() -> None:
    compared = [one for one in audit(audited()).comparisons if one.by == "oven" and one.measure == "unpopped_share"]
    assert [(one.first, one.second, one.because) for one in compared] == [("timed", "steamed", "the cooks are paired")]


def test_an_earlier_stop_costs_the_pops_that_were_heard_after_it() -> None:
    for cook, one in zip(finished(), audited(), strict=True):
        pops_s = cook.cook.pops_ms / 1000.0
        real_s = one.finished.outcome.stopped_s or 0.0
        for stop in one.other_stops:
            between = np.count_nonzero((pops_s > stop.stop_s) & (pops_s <= real_s))
            assert stop.pops_after == between
            assert stop.later_s == pytest.approx(stop.stop_s - real_s)
            assert stop.is_foreseen == (stop.stop_s > real_s)


def test_each_other_rule_is_summed_up() -> None:
    rules = {one.rule: one for one in audit(audited()).other_rules}
    assert set(rules) == {"ours", "first-silence", "steam-times-constant"}
    assert rules["ours"].cooks == 12
    assert rules["ours"].later_s is not None
    assert 0 <= rules["ours"].foreseen <= 12


PEAK_S = np.arange(60.0, 65.0, 0.5).tolist()


def two_second_rule(cook: Cook, stopped_s: float) -> OtherStop | None:
    ended = FinishedCook(setup=Setup(), cook=cook, outcome=Outcome(stopped_s=stopped_s, stopped_by="oven"))
    stops = {stop.rule: stop for stop in other_stops(ended, POPCORN)}
    assert "steam-times-constant" not in stops
    return stops.get("first-silence")


def test_the_two_second_rule_stops_at_the_first_silence_after_the_peak() -> None:
    """Common practice, no source: about two seconds between pops. Silences before the peak do not count."""
    strays_s = np.arange(5.0, 60.0, 5.0).tolist()
    stop = two_second_rule(Cook.of(pops_s=[*strays_s, *PEAK_S, 66.0, 69.0, 69.5]), 80.0)
    assert stop is not None
    assert (stop.stop_s, stop.is_foreseen, stop.pops_after) == (pytest.approx(68.0), False, 2)


@pytest.mark.parametrize("off", [0.0, 0.05], ids=["told as off", "told as what lamp and fan draw"])
@pytest.mark.parametrize("stopped_s", [90.0, 76.7], ids=["stopped later", "stopped sooner"])
def test_the_two_second_rule_counts_heating_alone(off: float, stopped_s: float) -> None:
    """Off from 66.5 s on for ten seconds, it is not a silence."""
    power = [(0.0, 1.0), (66.5, off), (76.5, 1.0)]
    stop = two_second_rule(
        Cook.of(pops_s=[*PEAK_S, 66.0, 80.0], power=power).until(round(1000.0 * stopped_s)), stopped_s
    )
    assert stop is not None
    assert stop.stop_s == pytest.approx(78.0)


def test_the_two_second_rule_goes_on_beyond_a_stop_that_came_before_any_silence() -> None:
    stop = two_second_rule(Cook.of(pops_s=[*PEAK_S, 66.0]), 66.5)
    assert stop is not None
    assert (stop.stop_s, stop.is_foreseen) == (pytest.approx(68.0), True)
    assert two_second_rule(Cook.of(pops_s=PEAK_S[:9]), 80.0) is None


def test_our_own_stop_does_not_look_beyond_the_real_one() -> None:
    one = finished()[0]
    later = FinishedCook(setup=one.setup, cook=one.cook.merged(Cook.of(pops_s=[400.0])), outcome=one.outcome)
    assert our_stop_s(later, POPCORN) == our_stop_s(one, POPCORN)


def test_a_cook_without_a_stop_has_nothing_to_compare() -> None:
    one = FinishedCook(setup=Setup(), cook=Cook.of(pops_s=[80.0]), outcome=Outcome(kernels_left=3, kernels_total=400))
    found = audit([audit_cook(one, POPCORN)])
    assert found.controls == ()
    assert found.other_rules[0].cooks == 0
    assert found.groups[0].unpopped is not None


def test_the_readings_of_audited_cooks_are_let_go() -> None:
    """A million of them are held at once."""
    assert all(one.finished.cook.same_as(EMPTY) for one in audited())


def test_no_cooks_are_an_empty_audit() -> None:
    found = audit([])
    assert found.groups[0].cooks == 0
    assert found.groups[0].unpopped is None
    assert found.comparisons == ()
