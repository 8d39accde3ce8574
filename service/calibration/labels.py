"""When a cook should have been stopped, as far as anybody says so.

A moment that somebody names counts as it is. Else the real stop was a good one where a person made it, unless what was
found in the bag says otherwise; where the oven or this service made it, only if what was found says so.
"""

from service.calibration.numbers import calibration_numbers
from service.outcomes.finished import FinishedCook
from service.outcomes.shares import scorched, unpopped


def good_stop_s(finished: FinishedCook) -> float | None:
    """The good stop on the cook clock (s); None where nobody knows of one."""
    outcome = finished.outcome
    if outcome.good_stop_s is not None:
        return outcome.good_stop_s
    good = _was_good(finished)
    if good is True or (good is None and outcome.stopped_by == "person"):
        return outcome.stopped_s
    return None


def _was_good(finished: FinishedCook) -> bool | None:
    """Whether the counts are those of a good stop; None where they do not say."""
    number = calibration_numbers().number
    left = unpopped(finished.outcome, finished.load_g())
    burnt = scorched(finished.outcome, finished.load_g())
    if left is not None and left.value > number("good_unpopped_share"):
        return False
    if burnt is not None and burnt.value > number("good_scorched_share"):
        return False
    return None if left is None or burnt is None else True
