"""The cooks of one oven, each looked at as it comes, and the profile that they come to."""

from typing import Any

from schemas.calibration import profile_of
from service.calibration.calibrate import calibrate
from service.calibration.trace import CookTrace, cook_trace
from service.programs.programme import Programme
from service.web.cook_logs import CookRead
from service.web.problems import Refused, wrong_input


class Traced:
    """What the cooks of one oven show, each looked at as it comes."""

    def __init__(self) -> None:
        self._traces: list[CookTrace] = []
        self._programme: Programme | None = None
        self._wrong: Refused | None = None

    def take(self, one: CookRead) -> None:
        """Look at a cook; after one that does not belong here at no more."""
        if self._wrong is None:
            self._programme = self._programme or one.programme
            self._wrong = _misfit(one, self._programme)
        if self._wrong is None:
            self._traces.append(cook_trace(one.finished, one.programme))

    def profile(self) -> dict[str, Any]:
        """The profile with what there is to say about it. Raises Refused without cooks, and for one that did not belong."""
        if self._wrong is not None:
            raise self._wrong
        if self._programme is None:
            raise wrong_input("", "expected at least one cook: its posts, and the line of its outcome")
        return profile_of(calibrate(self._traces, self._programme), self._programme.name)


def _misfit(one: CookRead, programme: Programme) -> Refused | None:
    if one.programme is not programme:
        return wrong_input("/program", f"cook from line {one.line} on: expected {programme.name!r} as before it")
    if "acoustic" not in programme.led_by:
        says = "expected a programme that listens, such as popcorn: others show too little of an oven"
        return wrong_input("/program", f"cook from line {one.line} on: {says}")
    return None
