"""A cook that is over: what was known before it, what was read in it, and what was found after it."""

from dataclasses import dataclass

from service.outcomes.outcome import Outcome
from service.readings.cook import Cook
from service.readings.setup import Setup


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FinishedCook:
    """One cook with its outcome.

    Attributes:
        setup: what the caller knew before it.
        cook: everything that was read.
        outcome: what was found.
    """

    setup: Setup
    cook: Cook
    outcome: Outcome

    def end_ms(self) -> int:
        """When the heating ended: the stop where it is known, else the newest reading (ms, cook clock)."""
        if self.outcome.stopped_s is not None:
            return round(self.outcome.stopped_s * 1000.0)
        newest_ms = self.cook.newest_ms()
        return 0 if newest_ms is None else newest_ms

    def load_g(self) -> float | None:
        """The mass of the bag's content: as weighed, else as printed on it (g)."""
        return self.outcome.grams_before or self.setup.load_g
