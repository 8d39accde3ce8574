"""The contact that opens by itself, on the machine's own clock."""

import threading
import time

import pytest

from service.client import GuardedContact

LONG_S = 20.0


class Oven:
    """Notes when it was switched off."""

    def __init__(self):
        self.off_s = []
        self.is_off = threading.Event()

    def switch_off(self):
        self.off_s.append(time.monotonic())
        self.is_off.set()


@pytest.fixture
def oven():
    return Oven()


@pytest.fixture
def contact(oven):
    with GuardedContact(oven.switch_off) as guarded:
        yield guarded


def test_it_opens_at_the_deadline_although_nobody_asks(oven, contact):
    deadline_s = time.monotonic() + 0.1
    contact.keep_until(deadline_s)
    assert oven.is_off.wait(LONG_S)
    assert deadline_s <= oven.off_s[0] < deadline_s + 1.0


def test_later_deadline_takes_the_place_of_an_earlier_one(oven, contact):
    contact.keep_until(time.monotonic() + 0.1)
    contact.keep_until(time.monotonic() + LONG_S)
    assert not oven.is_off.wait(0.3)


def test_earlier_deadline_takes_the_place_of_a_later_one(oven, contact):
    contact.keep_until(time.monotonic() + LONG_S)
    contact.keep_until(time.monotonic() + 0.1)
    assert oven.is_off.wait(LONG_S / 2.0)


def test_it_opens_when_told_and_not_again_at_the_old_deadline(oven, contact):
    contact.keep_until(time.monotonic() + 0.1)
    contact.open()
    assert len(oven.off_s) == 1
    oven.is_off.clear()
    assert not oven.is_off.wait(0.3)


def test_it_opens_when_the_program_leaves_it_behind(oven):
    def hub():
        with GuardedContact(oven.switch_off) as contact:
            contact.keep_until(time.monotonic() + LONG_S)
            raise KeyError("a defect of the hub")

    with pytest.raises(KeyError):
        hub()
    assert oven.is_off.is_set()


def test_it_never_opens_before_it_was_held(oven, contact):
    assert not oven.is_off.wait(0.1)
