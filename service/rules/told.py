"""What is told of the evidence beside a decision: plain numbers, with units in their names."""

from service.forecast.outlook import Outlook
from service.forecast.stop_time import StopTime
from service.readings.heating import HeatingClock
from service.rules.decision import Evidence
from service.rules.situation import Situation


def told_evidence(now: Situation, outlook: Outlook, clock: HeatingClock) -> Evidence:
    """Evidence by sensor. `stop_s` is what that sensor alone would forecast, on the cook clock."""
    acoustic, moisture, steam = outlook.acoustic, outlook.moisture, outlook.moisture.steam
    return {
        "acoustic": {
            "status": acoustic.status,
            "pops": acoustic.pops,
            "rate_per_s": acoustic.rate_per_s,
            "silence_s": acoustic.silence_s,
            "dead_time_s": acoustic.dead_time_s,
            "stop_s": _stop_s(outlook.by_sound, clock),
            **outlook.inferred.get("acoustic", {}),
        },
        "moisture": {
            "status": moisture.status,
            "vapour_g_m3": moisture.vapour_g_m3,
            "baseline_g_m3": None if steam is None else steam.baseline_g_m3,
            "onset_s": None if steam is None else steam.onset_s,
            "slope_g_m3_s": None if steam is None else steam.slope_g_m3_s,
            "stop_s": _stop_s(outlook.by_steam, clock),
            **outlook.inferred.get("moisture", {}),
        },
        "heating": {
            "status": "usable",
            "heating_s": now.heating_s,
            "full_power_s": clock.now_u_s,
            "duty_cycle": clock.duty(),
            **outlook.inferred.get("heating", {}),
        },
    }


def _stop_s(stop: StopTime | None, clock: HeatingClock) -> float | None:
    if stop is None:
        return None
    return clock.as_of_s + clock.cook_s_after(stop.at_sd(0.0) - clock.now_u_s)
