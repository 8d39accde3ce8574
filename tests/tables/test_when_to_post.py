"""How soon the next post is worth making: often where the stop may be near, seldom where it is far or over."""

import numpy as np
import pytest

from service.readings.cook import EMPTY, Cook
from service.rules.decision import Decision, Setup
from tests.cooks import POPCORN, ask, asked, drawn_pops_s

LEAST_S, TYPICAL_S, MOST_S = (POPCORN.number(f"post_{often}_s") for often in ("least", "typical", "most"))
BAG = Cook.of(pops_s=drawn_pops_s(420, 100.0, 14.0, seed=5))


def cooked() -> list[Decision]:
    return list(asked(BAG, np.arange(60.0, 160.0, 0.5)))


def low_s(decision: Decision) -> float:
    assert decision.remaining is not None
    return decision.remaining.low_s


def test_the_three_paces_differ() -> None:
    assert 0.0 < LEAST_S < TYPICAL_S < MOST_S


def test_before_anything_can_be_foretold_the_pace_is_the_typical_one() -> None:
    assert {ask(EMPTY, as_of_s).post_again_in_s for as_of_s in (0.0, 10.0, 60.0)} == {TYPICAL_S}


def test_a_stop_that_is_far_is_asked_about_seldom_and_one_that_may_be_now_often() -> None:
    going = [one for one in cooked() if one.decision != "stop" and one.remaining is not None]
    far = {one.post_again_in_s for one in going if low_s(one) >= 4.0 * MOST_S}
    near = {one.post_again_in_s for one in going if low_s(one) <= 4.0 * LEAST_S}
    assert (far, near) == ({MOST_S}, {LEAST_S})


def test_in_between_four_more_posts_fit_in_before_the_stop_may_come() -> None:
    between = [one for one in cooked() if one.remaining and 4.0 * LEAST_S < low_s(one) < 4.0 * MOST_S]
    assert between
    for one in between:
        assert one.post_again_in_s == pytest.approx(low_s(one) / 4.0)


def test_a_stopped_cook_is_asked_about_seldom() -> None:
    stopped = [one for one in cooked() if one.decision == "stop"]
    assert {one.post_again_in_s for one in stopped} == {MOST_S}


def test_a_cap_that_is_near_counts_as_the_stop_does() -> None:
    assert ask(BAG, 100.0).post_again_in_s == MOST_S
    assert ask(BAG, 100.0, Setup(max_heating_s=104.0)).post_again_in_s == pytest.approx(1.0)
    assert ask(BAG, 100.0, Setup(max_heating_s=100.5)).post_again_in_s == LEAST_S
