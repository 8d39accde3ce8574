"""What was found when the bag was opened: counts, weights, the volume, and who ended the cook and when.

A log of a cook may end with a line of it: `{"outcome": {"kernels_left": 23, "stopped_s": 141.0, "stopped_by": "oven"}}`.
Everything is optional, since a tester counts what a prototype team weighs; what is there must be possible.
"""

from dataclasses import dataclass, fields
from math import isfinite
from typing import Literal, TypeAlias

Stopper: TypeAlias = Literal["oven", "person", "service"]
STOPPERS: tuple[Stopper, ...] = ("oven", "person", "service")
LATEST_S = 7200.0


class ImpossibleOutcome(ValueError):
    """An outcome that cannot be; the text says what was received and what was expected."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What is known of one cook after it; whatever is None was not looked at.

    Raises ImpossibleOutcome for a number that is negative, infinite or not a number, for a part that is more than its
    whole, and for a stop without the one who made it, or the other way round.

    Attributes:
        stopped_s: when the heating ended for good (s, cook clock).
        stopped_by: the oven's own control, a person, or this service.
        good_stop_s: when it should have been stopped, where somebody says so (s, cook clock).
        kernels_left: kernels that did not pop.
        kernels_total: kernels that were in the bag.
        scorched_pieces: pieces that are brown or black.
        grams_before: what the bag held, kernels, fat and salt (g).
        grams_after: what it held afterwards (g).
        volume_cm3: volume of the popped corn (cm3).
        oven, bag: which oven, and which brand or kind of bag.
        policy: what was to end the cook, where a test compares several.
        trial: the number of the trial; cooks of one trial belong together.
        note: whatever else there is to say, such as that the cook is invented.
    """

    stopped_s: float | None = None
    stopped_by: Stopper | None = None
    good_stop_s: float | None = None
    kernels_left: int | None = None
    kernels_total: int | None = None
    scorched_pieces: int | None = None
    grams_before: float | None = None
    grams_after: float | None = None
    volume_cm3: float | None = None
    oven: str | None = None
    bag: str | None = None
    policy: str | None = None
    trial: int | None = None
    note: str | None = None

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, int | float) and not (isfinite(value) and value >= 0):
                raise ImpossibleOutcome(f"{field.name}: expected a number from 0 on; received {value}")
        self._refuse_late("stopped_s")
        self._refuse_late("good_stop_s")
        if (self.stopped_s is None) != (self.stopped_by is None):
            raise ImpossibleOutcome("stopped_s and stopped_by: expected both or neither")
        if self.stopped_by is not None and self.stopped_by not in STOPPERS:
            raise ImpossibleOutcome(f"stopped_by: expected one of {', '.join(STOPPERS)}; received {self.stopped_by!r}")
        self._refuse_more("kernels_left", "kernels_total")
        self._refuse_more("scorched_pieces", "kernels_total")
        self._refuse_more("grams_after", "grams_before")

    def _refuse_late(self, name: str) -> None:
        value = getattr(self, name)
        if value is not None and value > LATEST_S:
            raise ImpossibleOutcome(f"{name}: expected at most {LATEST_S:g} s; received {value:g}")

    def _refuse_more(self, part: str, whole: str) -> None:
        some, all_of_it = getattr(self, part), getattr(self, whole)
        if some is not None and all_of_it is not None and some > all_of_it:
            raise ImpossibleOutcome(f"{part}: expected at most {whole} = {all_of_it:g}; received {some:g}")
