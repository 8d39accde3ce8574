"""What the cooks say of an oven's heat: how much of its rating arrives, and how much of the time the magnetron is on.

Model. The programme expects popping to be densest after a certain heating, by the mass of the bag and the rating of the oven;
an oven that takes longer gives less. The share is that of an oven whose rating the programme would need to be right: 1 is
the programme's typical oven, whatever part of its rating that really delivers.

Range. The share speaks of the heating clock, so what a duty cycle holds back is not in it.
"""

from collections.abc import Sequence
from math import hypot, sqrt
from statistics import median

import numpy as np

from service.audit.tails import t_quantile
from service.calibration.numbers import calibration_numbers
from service.calibration.pooling import Before, pool
from service.calibration.trace import CookTrace
from service.readings.setup import Fitted


def fitted_power_share(traces: Sequence[CookTrace], level: float) -> Fitted | str:
    """Share of the rating that heats (1), or what is missing."""
    number = calibration_numbers().number
    logs = [trace.log_power_share for trace in traces if trace.log_power_share is not None]
    if len(logs) < number("least_cooks"):
        return (
            f"{number('least_cooks'):.0f} cooks with the rating, the mass of the bag and its popping heard;"
            f" there are {len(logs)}"
        )
    before = Before(
        default=0.0,
        between_sd=number("power_share_between_log_sd"),
        within_sd=number("power_share_within_log_sd"),
        weight=number("power_share_within_weight"),
    )
    return pool(np.array(logs), before).value(level)


def fitted_duty_cycle(traces: Sequence[CookTrace], level: float) -> Fitted | str:
    """Share of the time in which the magnetron is on (1), or what is missing."""
    number = calibration_numbers().number
    least = number("least_cooks")
    shares = [trace.on_share for trace in traces if trace.on_share is not None]
    if len(shares) < least:
        return f"{least:.0f} cooks with readings of the power; there are {len(shares)}"
    # The rhythm does not show in a cook that is over within two cycles, or in one that was paused.
    cycled = np.array([share for share in shares if (share < 1.0) == (median(shares) < 1.0)])
    mean = float(cycled.mean())
    error = hypot(float(cycled.std(ddof=1)) / sqrt(cycled.size), number("duty_cycle_error"))
    reach = t_quantile(0.5 + level / 2.0, cycled.size - 1) * error if mean < 1.0 else 0.0
    return Fitted(value=mean, low=max(mean - reach, 0.0), high=min(mean + reach, 1.0), cooks=cycled.size)
