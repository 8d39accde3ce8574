"""Where the session meets the machine: its clock, its waiting, its chance; and how long and how often it may do what."""

import random
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """The machine, as far as a session uses it.

    Attributes:
        clock: seconds since any moment, never set back.
        wait: lets so many seconds pass.
        chance: a number from 0 to 1, another one each time.
    """

    clock: Callable[[], float] = time.monotonic
    wait: Callable[[float], object] = field(default_factory=lambda: threading.Event().wait)
    chance: Callable[[], float] = field(default_factory=lambda: random.SystemRandom().random)


@dataclass(frozen=True, slots=True, kw_only=True)
class Manners:
    """How a session behaves towards the service and the oven (s).

    Attributes:
        timeout_s: how long one post may take.
        unanswered_s: the most heating, at the start and after a restart, on which the service has said nothing yet.
        first_retry_s: the longest wait after the first failure; each further failure doubles it.
        most_retry_s: the longest wait between two tries, unless the service asks for a longer one.
    """

    timeout_s: float = 4.0
    unanswered_s: float = 30.0
    first_retry_s: float = 0.25
    most_retry_s: float = 4.0

    def retry_in_s(self, failures: int, chance: float, asked_s: float | None = None) -> float:
        """How long to wait after so many failures in a row, the last of which asked for `asked_s`.

        Half of the wait is by chance, so that hubs that lost the service together do not come back together.
        """
        doublings = min(failures - 1, 30)
        longest_s = min(self.first_retry_s * 2.0**doublings, self.most_retry_s)
        drawn_s = longest_s * (0.5 + 0.5 * chance)
        return drawn_s if asked_s is None else max(drawn_s, asked_s + self.first_retry_s * chance)
