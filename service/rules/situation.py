"""All that the rules look at, gathered once for a decision."""

from typing import NamedTuple

from service.evidence.acoustic import Acoustic
from service.evidence.moisture import Moisture
from service.forecast.outlook import Food, LedBy
from service.readings.settled import Settled
from service.rules.decision import Remaining
from service.rules.limits import Limits


class Situation(NamedTuple):
    """One cook at one moment.

    Attributes:
        as_of_s: the moment on the cook clock.
        heating_s: time with power on so far.
        is_on: whether the magnetron runs.
        settled: what earlier decisions settled, or None.
        restarted_s: heating time since the restart after the last stop; None unless there is one.
        acoustic, moisture: the evidence.
        remaining: the forecast, on the cook clock; None when nothing can be said.
        led_by: which evidence the forecast rests on: `sound`, `steam`, `both`, or None.
        disagree: sound and steam contradict each other.
        cap_in_s: until the heating cap, if the heating goes on as it does (cook clock).
        limits: what to hold all that against.
        heard_share: share of the pops that the microphone seems to hear; None where that is not known.
        food: of a programme that is led by steam alone; None where the sound counts too.
    """

    as_of_s: float
    heating_s: float
    is_on: bool
    settled: Settled | None
    restarted_s: float | None
    acoustic: Acoustic
    moisture: Moisture
    remaining: Remaining | None
    led_by: LedBy | None
    disagree: bool
    cap_in_s: float
    limits: Limits
    heard_share: float | None = None
    food: Food | None = None

    @property
    def stopped(self) -> bool:
        """A stop holds: it was given, and no restart came after it."""
        return self.settled is not None and self.settled.stop_ms is not None and self.restarted_s is None

    @property
    def shows_life(self) -> bool:
        """Some sensor has shown that it works, even if it has said nothing of the end yet."""
        heard = self.food is None and self.acoustic.pops > 0
        return heard or self.moisture.status == "usable"

    @property
    def is_due(self) -> bool:
        """The foretold stop has come, and so late that evidence may end a cook."""
        if self.remaining is None or self.restarted_s is not None or self.heating_s < self.limits.hold_off_s:
            return False
        return self.remaining.estimate_s <= self.limits.decision_lead_s

    @property
    def steams(self) -> bool:
        """Food has begun to steam."""
        return self.food is not None and self.food.steaming_s is not None

    @property
    def ends_unmeasured_s(self) -> float:
        """The heating after which the cook ends while nothing is foretold."""
        if not self.shows_life:
            return self.limits.blind_s
        return self.limits.cap_s if self.steams else self.limits.waiting_s
