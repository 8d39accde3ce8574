"""Readings that stand out from those around them, as when a byte is lost on the way from a sensor.

Model. Vapour in a cavity, through a sensor's lag, neither comes nor goes within one reading. One that lies further from the
middle one of the five around it than any noise is none of the air's, and that middle one stands in for it: so two wild ones
in five do no harm, and a rise or a fall is left as it is. Next to the ends there are only three to take the middle one of.

Range. Readings up to 3 s apart: between slower ones steam may well come and go. The newest reading is left as it is, since
nothing is known yet of what follows.
"""

import numpy as np

from service.units import FloatArray

_NEAR_S = 6.5


def without_spikes(t_s: FloatArray, vapour_g_m3: FloatArray, spike_g_m3: float) -> FloatArray:
    """The readings (n,) in order of time, with those replaced that stand out by more than `spike_g_m3`."""
    steps = vapour_g_m3[1:] - vapour_g_m3[:-1]
    # What stands out goes up and down again, or down and up.
    if steps.size < 2 or steps.item(steps.argmax()) <= spike_g_m3 or steps.item(steps.argmin()) >= -spike_g_m3:
        return vapour_g_m3
    middle = vapour_g_m3.copy()
    middle[1:-1] = _middles(vapour_g_m3, 3)
    middle[2:-2] = _middles(vapour_g_m3, 5)
    stands_out = np.abs(vapour_g_m3 - middle) > spike_g_m3
    stands_out[1:-1] &= t_s[2:] - t_s[:-2] <= _NEAR_S
    return np.where(stands_out, middle, vapour_g_m3)


def _middles(values: FloatArray, count: int) -> FloatArray:
    """The middle one of every so many successive values."""
    if values.size < count:
        return values[:0]
    runs = np.lib.stride_tricks.sliding_window_view(values, count)
    middles: FloatArray = np.partition(runs, count // 2, axis=1)[:, count // 2]
    return middles
