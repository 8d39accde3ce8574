"""What a programme makes of the readings: the evidence, and a distribution of the stop."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

from service.evidence.acoustic import Acoustic
from service.evidence.moisture import Moisture
from service.forecast.stop_time import StopTime

LedBy = Literal["sound", "steam", "both"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Food:
    """What a programme that is led by steam alone wants of its food, and how far it has come.

    Attributes:
        core_c: what the coldest part must reach; None where the first moisture ends the cook.
        steaming_s: full-power heating since steam began (s); None before.
        nudge_share: share of the time from steam to stop after which a person is told to stir or turn; 0 for never.
        sound_ignored: there is a microphone, and this programme does not listen to it.
        settles_in_s: for so long yet (s of heating) the steam may turn out not to be the food's.
    """

    core_c: float | None
    steaming_s: float | None
    nudge_share: float
    sound_ignored: bool
    settles_in_s: float = 0.0


class Outlook(NamedTuple):
    """Evidence and forecast of one cook at one moment.

    Attributes:
        acoustic, moisture: the evidence of the two sensors.
        stop: the distribution of the stop that the rules go by; None when nothing can be said.
        by_sound, by_steam: what each sensor says alone.
        led_by: what `stop` rests on; None with it.
        disagree: sound and steam are further apart than their spreads allow.
        inferred: further numbers to tell, by the sensor that they come from; None where one is not known.
        few_pops: so few pops were heard before any steam that they are not yet the sound of a bag.
        heard_share: share of the pops that the microphone seems to hear; None while there is nothing to tell it by.
        popped_share: share of the pops to be heard that has been heard; None where the forecast rests on steam alone.
        food: of a programme that is led by steam alone; None where the sound counts too.
    """

    acoustic: Acoustic
    moisture: Moisture
    stop: StopTime | None
    by_sound: StopTime | None
    by_steam: StopTime | None
    led_by: LedBy | None
    disagree: bool
    inferred: Mapping[str, Mapping[str, float | Mapping[str, float] | None]]
    few_pops: bool = False
    heard_share: float | None = None
    popped_share: float | None = None
    food: Food | None = None
