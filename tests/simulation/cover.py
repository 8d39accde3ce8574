"""What lies over the food: vapour gathers under a cover, wets it, and leaves by its vents.

Vapour moves between the food's surface, the space under the cover and the cover itself as differences of vapour density drive it.
What leaves is carried by a draught through the vents, and by the steam itself: boiling drives out the gas that it
displaces. Dew on the cover warms it and drips back. Without a cover the draught is strong and there is nothing to wet.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.simulation.sensors import saturation_g_m3
from tests.simulation.water import evaporating_j_g

STEAM_L_G = 1.67
COVER_LOSS_W_M2_K = 10.0
TABLE_FROM_C, TABLE_STEP_C = -20.0, 0.25
TABLE_G_M3: list[float] = saturation_g_m3(np.arange(TABLE_FROM_C, 120.0, TABLE_STEP_C)).tolist()


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """One cover, or none: then `area_m2` is 0 and the vent wide."""

    vent_l_s: float
    space_l: float
    area_m2: float
    heat_j_k: float
    transfer_m_s: float


def saturated_g_m3(temperature_c: float) -> float:
    """Vapour density of saturated air, from a table."""
    place = (temperature_c - TABLE_FROM_C) / TABLE_STEP_C
    below = int(place)
    return TABLE_G_M3[below] + (place - below) * (TABLE_G_M3[below + 1] - TABLE_G_M3[below])


class Headspace:
    """The running state of the space under the cover, and of the cover."""

    def __init__(self, cover: Cover, kitchen_c: float, kitchen_g_m3: float) -> None:
        self._cover = cover
        self._kitchen_c, self._kitchen_g_m3 = kitchen_c, kitchen_g_m3
        self.vapour_g_m3 = kitchen_g_m3
        self.cover_c = kitchen_c
        self.dew_g_s = self.out_g_s = 0.0

    def step(
        self, surfaces: Sequence[tuple[float, float]], boiled_g_s: float, draught_l_s: float, lasting_s: float
    ) -> None:
        """Let vapour move for one step, given each surface's (g/m3 over it, m2 that are wet).

        The step is an implicit one, so that a small space under a wide vent stays calm.
        """
        cover = self._cover
        at_cover_g_m3 = saturated_g_m3(self.cover_c)
        dewy_m3_s = cover.transfer_m_s * cover.area_m2 if self.vapour_g_m3 > at_cover_g_m3 else 0.0
        out_m3_s = (cover.vent_l_s + draught_l_s + STEAM_L_G * boiled_g_s) * 1e-3
        space_m3_s = cover.space_l * 1e-3 / lasting_s
        gain_g_s = (
            boiled_g_s + space_m3_s * self.vapour_g_m3 + dewy_m3_s * at_cover_g_m3 + out_m3_s * self._kitchen_g_m3
        )
        all_m3_s = space_m3_s + dewy_m3_s + out_m3_s
        for over_g_m3, wet_m2 in surfaces:
            gain_g_s += cover.transfer_m_s * wet_m2 * over_g_m3
            all_m3_s += cover.transfer_m_s * wet_m2
        self.vapour_g_m3 = gain_g_s / all_m3_s
        self.dew_g_s = max(0.0, dewy_m3_s * (self.vapour_g_m3 - at_cover_g_m3))
        self.out_g_s = max(0.0, out_m3_s * (self.vapour_g_m3 - self._kitchen_g_m3))
        self._warm_cover(lasting_s)

    def off_surface_g_s(self, over_g_m3: float, wet_m2: float) -> float:
        """Vapour leaving a surface in the step just made; negative where it settles on cold food."""
        return self._cover.transfer_m_s * wet_m2 * (over_g_m3 - self.vapour_g_m3)

    def _warm_cover(self, lasting_s: float) -> None:
        if self._cover.area_m2 > 0.0:
            lost_w = COVER_LOSS_W_M2_K * self._cover.area_m2 * (self.cover_c - self._kitchen_c)
            gained_w = self.dew_g_s * evaporating_j_g(self.cover_c)
            self.cover_c = min(self.cover_c + lasting_s * (gained_w - lost_w) / self._cover.heat_j_k, 100.0)
