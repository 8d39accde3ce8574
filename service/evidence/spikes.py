"""Single readings that stand out from both of their neighbours, as when a byte is lost on the way from a sensor.

Model. Vapour in a cavity, through a sensor's lag, neither comes nor goes within one reading. One that is higher than both
the reading before and the one after it, or lower than both, by more than any noise is none of the air's, and the middle of
those two stands in for it.

Range. The newest reading is left as it is, since nothing is known yet of what follows; two wild ones in a row stay.
"""

import numpy as np

from service.units import FloatArray


def without_spikes(vapour_g_m3: FloatArray, spike_g_m3: float) -> FloatArray:
    """The readings (n,) in order of time, with those replaced that stand out by more than `spike_g_m3`."""
    steps = vapour_g_m3[1:] - vapour_g_m3[:-1]
    # What stands out goes up and down again, or down and up.
    if steps.size < 2 or steps.item(steps.argmax()) <= spike_g_m3 or steps.item(steps.argmin()) >= -spike_g_m3:
        return vapour_g_m3
    out_and_back = np.minimum(np.abs(steps[1:]), np.abs(steps[:-1])) > spike_g_m3
    (wild,) = (out_and_back & (steps[1:] * steps[:-1] < 0.0)).nonzero()
    smooth = vapour_g_m3.copy()
    smooth[wild + 1] = (vapour_g_m3[wild] + vapour_g_m3[wild + 2]) / 2.0
    return smooth
