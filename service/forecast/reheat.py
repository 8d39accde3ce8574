"""When food that is led by its steam alone is done: a ratio of the time to steam.

Model. Time to steam and time to done both scale with the food's heat over the oven's power, which are not known, so the stop
lies at a ratio of the onset of steam on the heating clock, give or take. Sound is left out of account.

Range. Onsets of 1 s to 7200 s on the heating clock.
"""

from math import log

from service.evidence.acoustic import Acoustic
from service.evidence.moisture import MoistureNumbers, moisture_evidence
from service.forecast.outlook import Food, Outlook
from service.forecast.stop_time import StopTime
from service.programs.programme import Programme
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from service.readings.setup import Setup

NOT_LISTENED_FOR = {"rate_per_s": None, "silence_s": None, "dead_time_s": None, "kernels_left": None}


def reheat_outlook(programme: Programme, setup: Setup, cook: Cook, clock: HeatingClock, reach_sd: float) -> Outlook:
    """Evidence and forecast from `cook`, which holds nothing later than the clock's `as_of_s`."""
    number = programme.number
    moisture = moisture_evidence(cook, programme.numbers(MoistureNumbers))
    onset_s = None if moisture.steam is None else moisture.steam.onset_s
    onset_u_s = None if onset_s is None else max(clock.full_power_s(onset_s), 1.0)
    stop = None
    if onset_u_s is not None:
        stop = StopTime(log_mean=log(number("steam_ratio") * onset_u_s), log_sd=number("steam_ratio_log_sd"))
    return Outlook(
        acoustic=unheard(cook),
        moisture=moisture,
        stop=stop,
        by_sound=None,
        by_steam=stop,
        led_by=None if stop is None else "steam",
        disagree=False,
        inferred={"acoustic": NOT_LISTENED_FOR},
        food=Food(
            core_c=number("safe_core_c"),
            steaming_s=None if onset_u_s is None else clock.full_power_s(clock.as_of_s) - onset_u_s,
            nudge_share=number("nudge_share"),
            sound_ignored=bool(cook.pops_ms.size) or "acoustic" in (setup.sensors or ()),
        ),
    )


def unheard(cook: Cook) -> Acoustic:
    """What a programme that does not listen says of the sound: how many pops came, and nothing else."""
    return Acoustic(
        status="absent",
        pops=int(cook.pops_ms.size),
        rate_per_s=0.0,
        silence_s=0.0,
        listened_until_s=0.0,
        dead_time_s=0.0,
        likelihood=None,
    )
