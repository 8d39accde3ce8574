"""Requests made up from the description, and altered states; many more of both can be had by hand (tests/web/fuzz.py)."""

from statistics import median

import pytest

from tests.web.fuzz import DECISIONS, REPLAYS, altered, made_up


@pytest.mark.parametrize("part", range(8))
def test_whatever_the_description_lets_one_ask_is_answered_as_described(part):
    """Two thousand requests, in parts that several processes share."""
    made = made_up(255, part)
    assert made.cases >= 250
    assert set(made.statuses[DECISIONS]) >= {200, 422}
    assert set(made.statuses[REPLAYS]) == {200}
    assert len(made.statuses) >= 9


def test_no_altered_state_is_taken_and_none_takes_long():
    made = altered(1000)
    assert made.statuses == {422: 1000}
    assert median(made.took_ms) < 5.0
