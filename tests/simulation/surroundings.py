"""What else makes or clears vapour around a cook: steam in the kitchen, walls wet from the cook before, a fan that steps up.

The kitchen's vapour rises along a straight line from a moment on, stays for a while, and falls as it rose. Walls that are wet
from the cook before dry into the cavity's air, and that air may still be moist at the start. All of it is invented.
"""

from dataclasses import dataclass

import numpy as np

from tests.simulation.kernels import FloatArray
from tests.simulation.oven import STEP_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """The kitchen and the oven around one cook; zeros mean that nothing is the matter.

    From `steam_at_s` on `steam_g_m3` more vapour comes into the kitchen within `steam_over_s`, and goes again after
    `steam_lasts_s`. At the start the walls hold `wet_g_m3`, and the air `moist_g_m3` more than the kitchen's, both in grams a
    cubic metre of the cavity. At `fan_at_s` the fan begins to clear the air faster by `fan_more`.
    """

    steam_at_s: float
    steam_over_s: float
    steam_lasts_s: float
    steam_g_m3: float
    wet_g_m3: float
    moist_g_m3: float
    fan_at_s: float
    fan_more: float

    def kitchen_steam_g_m3(self, steps: int) -> FloatArray:
        """Vapour that has come into the kitchen's air, on the steps."""
        since_s = np.arange(steps) * STEP_S - self.steam_at_s
        over_s = max(self.steam_over_s, STEP_S)
        rising, falling = since_s / over_s, (since_s - self.steam_lasts_s) / over_s
        share = np.clip(rising, 0.0, 1.0) - np.clip(falling, 0.0, 1.0)
        return self.steam_g_m3 * share

    def fan_speed(self, steps: int) -> FloatArray:
        """How much faster the fan clears the air than at the start, on the steps."""
        speed: FloatArray = 1.0 + self.fan_more * (np.arange(steps) * STEP_S >= self.fan_at_s)
        return speed
