"""What the cooks say of a microphone: its dead time, and how often it takes something else for a pop.

Model. The dead time is read off all gaps between pops together (service.evidence.dead_time), and drawn towards the
programme's. Clutter is a Poisson process; it is counted in the time before any kernel can have popped.

Range. A paralysable counter shows the same shortest gap. Clocks that are unsteady by some tens of milliseconds blur it, and
the dead time is then found too short.
"""

from collections.abc import Sequence

import numpy as np

from service.calibration.numbers import calibration_numbers
from service.calibration.pooling import fitted_on_grid, log_normal_grid
from service.calibration.trace import CookTrace
from service.evidence.dead_time import dead_time_from_pops
from service.programs.programme import Programme
from service.readings.setup import Fitted

_LEAST_ERROR_S = 0.0005


def fitted_dead_time_s(traces: Sequence[CookTrace], programme: Programme, level: float) -> Fitted | str:
    """Dead time (s), or what is missing."""
    number = calibration_numbers().number
    fine = [trace for trace in traces if 0 < trace.pops_step_ms <= number("coarsest_pops_ms")]
    gaps_ms = np.concatenate([trace.gaps_ms for trace in fine]) if fine else np.empty(0, dtype=np.int32)
    if gaps_ms.size < number("dead_time_gaps"):
        return (
            f"{number('dead_time_gaps'):.0f} gaps between pops that are timed to {number('coarsest_pops_ms'):.0f} ms"
            f" or better; there are {gaps_ms.size}"
        )
    # The gaps of all cooks, put one behind the other as if they were of one.
    found = dead_time_from_pops(np.cumsum(gaps_ms), stray_share=number("stray_gap_share"))
    if found is None:
        return "more gaps between pops"
    error_s = max(found.standard_error_s, _LEAST_ERROR_S, max(trace.pops_step_ms for trace in fine) / 1000.0)
    values, log_weight = log_normal_grid(programme.number("dead_time_s"), number("dead_time_log_sd"))
    log_weight = log_weight - 0.5 * ((found.estimate_s - values) / error_s) ** 2
    return fitted_on_grid(values, log_weight, len(fine), level)


def fitted_clutter_per_s(traces: Sequence[CookTrace], level: float) -> Fitted | str:
    """Rate of false pops (1/s), or what is missing."""
    number = calibration_numbers().number
    heard = [trace for trace in traces if trace.popping is not None]
    if len(heard) < number("least_cooks"):
        return f"{number('least_cooks'):.0f} cooks in which the popping was heard; there are {len(heard)}"
    quiet_s, strays = sum(trace.quiet_s for trace in heard), sum(trace.strays for trace in heard)
    values, log_weight = log_normal_grid(number("clutter_per_s"), number("clutter_log_sd"))
    log_weight = log_weight + strays * np.log(values * max(quiet_s, 1.0)) - values * quiet_s
    return fitted_on_grid(values, log_weight, len(heard), level)
