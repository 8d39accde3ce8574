"""The network is pulled out for half a minute in the middle of a cook: `python -m tests.client` does it to many more."""

import math

import pytest

from tests.client.pulled_out import OUT_S, STEP_S, cases, outcome


@pytest.fixture(scope="module", params=cases(5), ids=lambda case: f"{case.kind}-{case.way}")
def seen(request):
    return outcome(request.param)


def test_contact_opens_by_the_last_deadline_that_came_through(seen):
    assert not math.isnan(seen.deadline_s)
    assert seen.stopped_s <= seen.deadline_s + STEP_S


def test_service_ends_with_every_reading_and_no_other(seen):
    assert seen.unsent == 0
    assert seen.same_evidence


def test_tries_thin_out_while_nothing_answers(seen):
    # Doubling from a quarter of a second to four, of which a half is certain.
    assert 2 <= seen.tries <= OUT_S / 2.0 + 4


def test_cooks_of_the_long_run_are_different_ones():
    drawn = cases(100)
    assert len({(case.kind, case.seed) for case in drawn}) == 100
    assert {case.way for case in drawn} == {"refused", "hanging", "answers lost"}
