"""How long to wait after a failure."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.client import Edge, Manners
from service.client.transport import retry_after_s

NOW = datetime(2026, 11, 25, 12, 0, 0, tzinfo=UTC)
chances = st.floats(0.0, 1.0)
failures = st.integers(1, 10_000)


@pytest.mark.parametrize(("failed", "longest_s"), [(1, 0.25), (2, 0.5), (3, 1.0), (5, 4.0), (50, 4.0)])
def test_wait_doubles_up_to_the_longest(failed, longest_s):
    assert Manners().retry_in_s(failed, 1.0) == longest_s
    assert Manners().retry_in_s(failed, 0.0) == longest_s / 2.0


@given(failures, chances)
def test_wait_is_never_none_and_never_over_the_longest(failed, chance):
    assert 0.125 <= Manners().retry_in_s(failed, chance) <= 4.0


@given(failures, chances, st.floats(0.0, 1e6))
def test_wait_is_never_shorter_than_was_asked_for(failed, chance, asked_s):
    assert Manners().retry_in_s(failed, chance, asked_s) >= asked_s


def test_chance_of_the_machine_spreads():
    chance = Edge().chance
    assert len({chance() for _ in range(20)}) > 10


@pytest.mark.parametrize(
    ("header", "wait_s"),
    [
        (None, None),
        ("0", 0.0),
        ("120", 120.0),
        (" 7 ", 7.0),
        ("Wed, 25 Nov 2026 12:00:30 GMT", 30.0),
        ("Wed, 25 Nov 2026 11:59:00 GMT", 0.0),
        ("-3", None),
        ("soon", None),
        ("", None),
    ],
)
def test_retry_after_is_a_number_or_a_date(header, wait_s):
    assert retry_after_s(header, NOW) == wait_s
