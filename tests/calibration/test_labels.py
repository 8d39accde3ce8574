"""Which cooks tell when they should have been stopped."""

import pytest

from service.calibration.labels import good_stop_s
from service.outcomes.finished import FinishedCook
from service.outcomes.outcome import Outcome
from service.readings.cook import EMPTY
from service.readings.setup import Setup

GOOD = {"kernels_total": 400, "kernels_left": 20, "scorched_pieces": 2}
LEFT = {"kernels_total": 400, "kernels_left": 120, "scorched_pieces": 0}
BURNT = {"kernels_total": 400, "kernels_left": 10, "scorched_pieces": 30}


@pytest.mark.parametrize(
    ("found", "good_s"),
    [
        ({"stopped_s": 140.0, "stopped_by": "person"}, 140.0),
        ({"stopped_s": 140.0, "stopped_by": "person", **GOOD}, 140.0),
        ({"stopped_s": 140.0, "stopped_by": "person", **LEFT}, None),
        ({"stopped_s": 140.0, "stopped_by": "person", **BURNT}, None),
        ({"stopped_s": 140.0, "stopped_by": "oven"}, None),
        ({"stopped_s": 140.0, "stopped_by": "oven", **GOOD}, 140.0),
        ({"stopped_s": 140.0, "stopped_by": "oven", "kernels_total": 400, "kernels_left": 20}, None),
        ({"stopped_s": 140.0, "stopped_by": "service", **GOOD}, 140.0),
        ({"stopped_s": 140.0, "stopped_by": "service", **BURNT}, None),
        ({"stopped_s": 140.0, "stopped_by": "oven", "good_stop_s": 151.0, **LEFT}, 151.0),
        ({"good_stop_s": 151.0}, 151.0),
        ({}, None),
    ],
)
def test_a_good_stop_is_named_made_by_a_person_or_shown_by_the_counts(
    found: dict[str, float | str | int], good_s: float | None
) -> None:
    outcome = Outcome(**found)  # type: ignore[arg-type]
    assert good_stop_s(FinishedCook(setup=Setup(), cook=EMPTY, outcome=outcome)) == good_s
