"""A few simulated reheats, decided: too few to say how good the service is, enough to see that it has not gone wrong."""

import pytest

from tests.simulation.reheat_kinds import KINDS
from tests.simulation.run import Task, run
from tests.simulation.score import FAR_S, GRACE_S, Outcome


@pytest.fixture(scope="module")
def outcomes() -> list[Outcome]:
    """One reheat of each kind, oven and load unsaid."""
    tasks = [
        Task(kind=kind, seed=77, network=False, way="core", program="reheat", says_setup=False)
        for kind in KINDS
        if kind != "soup"
    ]
    return run(tasks, 1)


def test_most_stops_lie_in_their_windows(outcomes: list[Outcome]) -> None:
    inside = [
        one for one in outcomes if one.stop_s and one.earliest_s - GRACE_S <= one.stop_s <= one.latest_s + GRACE_S
    ]
    assert len(inside) >= len(outcomes) / 2


def test_few_stops_come_long_before_the_core_is_safe(outcomes: list[Outcome]) -> None:
    assert sum(one.stop_s is not None and one.earliest_s - one.stop_s > FAR_S for one in outcomes) <= 2


def test_no_meal_is_stopped_before_it_steams(outcomes: list[Outcome]) -> None:
    assert all(one.steam_s is None or one.stop_s is None or one.stop_s > one.steam_s for one in outcomes)


def test_most_intervals_meet_the_window(outcomes: list[Outcome]) -> None:
    given = sum(one.intervals for one in outcomes)
    assert sum(one.intervals_meeting_window for one in outcomes) >= 0.7 * given > 0
