"""The last line of a log, once a cook is over: what was found, and what is told of it."""

from typing import Any

from marshmallow import ValidationError

from schemas.strict import Number, Object, OneOf, Text, Whole, nested
from service.outcomes.finished import FinishedCook
from service.outcomes.outcome import LATEST_S, STOPPERS, ImpossibleOutcome, Outcome
from service.outcomes.shares import expansion_cm3_per_g, mass_lost_share, scorched, unpopped

MOST_PIECES = 100_000
FOUND = {
    "unpopped_share": "kernels left, of all",
    "scorched_share": "scorched pieces, of all kernels",
    "expansion_cm3_per_g": "volume of the popped corn over the mass that went in",
    "mass_lost_share": "share of the mass that left the bag",
}
"""What can follow from an outcome. Kernels that nobody counted are estimated from the mass of the bag."""


class OutcomeSchema(Object):
    """What was found when a cook was over; nothing of it is required.

    Loads into an Outcome.
    """

    stopped_s = Number(0.0, LATEST_S, "s", says="when the heating ended for good, on the cook clock")
    stopped_by = OneOf(*STOPPERS, says="who ended it: the oven's own control, a person, or this service")
    good_stop_s = Number(0.0, LATEST_S, "s", says="when it should have been stopped, on the cook clock")
    kernels_left = Whole(0, MOST_PIECES, says="kernels that did not pop")
    kernels_total = Whole(0, MOST_PIECES, says="kernels that were in the bag")
    scorched_pieces = Whole(0, MOST_PIECES, says="pieces that are brown or black")
    grams_before = Number(0.0, 5000.0, "g", says="what the bag held: kernels, fat and salt")
    grams_after = Number(0.0, 5000.0, "g", says="what it held afterwards")
    volume_cm3 = Number(0.0, 1e6, "cm3", says="volume of the popped corn")
    oven = Text(100, says="which oven")
    bag = Text(100, says="which brand or kind of bag")
    policy = Text(100, says="what was to end the cook, where several are compared")
    trial = Whole(0, 1_000_000, says="number of the trial; cooks of one trial belong together")
    note = Text(500, says="whatever else there is to say, such as that the cook is invented")

    def made(self, read: dict[str, Any]) -> Outcome:
        try:
            return Outcome(**read)
        except ImpossibleOutcome as error:
            raise ValidationError(str(error)) from error


class OutcomeLineSchema(Object):
    """The line that ends a cook in a log.

    Loads into an Outcome.
    """

    outcome = nested(OutcomeSchema, "what was found when the cook was over")

    def made(self, read: dict[str, Any]) -> Outcome:
        outcome: Outcome = read["outcome"]
        return outcome


def found_of(finished: FinishedCook) -> dict[str, float]:
    """What follows from an outcome, as it is told: shares of the kernels and of the mass, and the expansion."""
    outcome, load_g = finished.outcome, finished.load_g()
    left, burnt = unpopped(outcome, load_g), scorched(outcome, load_g)
    values = (
        None if left is None else left.value,
        None if burnt is None else burnt.value,
        expansion_cm3_per_g(outcome, load_g),
        mass_lost_share(outcome),
    )
    return {name: round(value, 4) for name, value in zip(FOUND, values, strict=True) if value is not None}
