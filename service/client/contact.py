"""The contact in series with the oven, and the stop that comes when nobody prolongs: a dead man's stop.

The contact only ever ends heating that the appliance has begun. It is no safety device; the appliance's own interlocks
and timer stay in charge.
"""

import threading
import time
from collections.abc import Callable
from types import TracebackType
from typing import Protocol, Self


class Contact(Protocol):
    """What a session holds closed, and opens to stop."""

    def keep_until(self, moment_s: float) -> None:
        """Stay closed until this moment on the session's clock, and open then unless told otherwise before."""

    def open(self) -> None:
        """Open now."""


class NoContact:
    """For a session that only advises."""

    def keep_until(self, moment_s: float) -> None:
        """Nothing is held."""

    def open(self) -> None:
        """Nothing is opened."""


class GuardedContact:
    """A contact that a thread of its own opens at the deadline, whatever the rest of the program is doing then.

    It switches off at the deadline, when told to, and when it is closed down. It never switches on.
    """

    def __init__(self, switch_off: Callable[[], object], clock: Callable[[], float] = time.monotonic) -> None:
        """`switch_off` may be called more than once, and from another thread; it must not wait for anything."""
        self._switch_off = switch_off
        self._clock = clock
        self._changed = threading.Condition()
        self._until_s: float | None = None
        self._is_over = False
        self._thread = threading.Thread(target=self._guard, name="dead man's stop", daemon=True)
        self._thread.start()

    def keep_until(self, moment_s: float) -> None:
        """As Contact.keep_until; it may also be earlier than what was said before."""
        with self._changed:
            self._until_s = moment_s
            self._changed.notify()

    def open(self) -> None:
        """As Contact.open."""
        with self._changed:
            self._until_s = None
            self._switch_off()

    def close_down(self) -> None:
        """Switch off and end the thread."""
        with self._changed:
            self._is_over = True
            self._changed.notify()
        self._thread.join()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close_down()

    def _guard(self) -> None:
        with self._changed:
            while not self._is_over:
                left_s = None if self._until_s is None else self._until_s - self._clock()
                if left_s is not None and left_s <= 0.0:
                    self._until_s = None
                    self._switch_off()
                else:
                    self._changed.wait(left_s)
            self._switch_off()
