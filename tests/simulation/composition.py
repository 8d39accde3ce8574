"""What food is made of, and the heat that it holds.

Specific heats are the polynomials of Choi & Okos (1986, Food Engineering and Process Applications 1:93-101), summed by mass
share. Below its freezing point food is partly ice: with an ideal solution the frozen share of its water at T degC is 1 - Tf / T.
"""

from dataclasses import dataclass

import numpy as np

from tests.simulation.kernels import FloatArray

MELTING_J_G = 333.6
ICE_J_G_K = 2.06
GRID_C = (-20.0, 115.0, 0.05)
HELD_STEP_J_G = 0.25

# J/kg K at T degC, as (constant, per degree, per degree squared); the fat's slope is the commonly tabulated one, from memory.
WATER = (4176.2, -0.0909, 5.4731e-3)
PROTEIN = (2008.2, 1.2089, -1.3129e-3)
FAT = (1984.2, 1.4733, -4.8008e-3)
CARBOHYDRATE = (1548.8, 1.9625, -5.9399e-3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Composition:
    """Mass shares of one; what is missing to one is carbohydrate. Freezing begins at `freezes_c`, under 0 degC."""

    water: float
    protein: float
    fat: float
    freezes_c: float

    def specific_heat_j_g_k(self, temperature_c: FloatArray) -> FloatArray:
        """Specific heat of the thawed food."""
        rest = 1.0 - self.water - self.protein - self.fat
        parts = ((self.water, WATER), (self.protein, PROTEIN), (self.fat, FAT), (rest, CARBOHYDRATE))
        heat: FloatArray = sum(
            (share * (a + b * temperature_c + c * temperature_c**2) for share, (a, b, c) in parts),
            start=np.zeros_like(temperature_c),
        )
        return heat / 1000.0

    def ice_share(self, temperature_c: float) -> float:
        """Share of the water that is frozen."""
        return 1.0 - self.freezes_c / min(temperature_c, self.freezes_c)


class HeatCurve:
    """Heat held by a gram of food against its temperature, zero at 0 degC when thawed."""

    def __init__(self, food: Composition) -> None:
        self.made_of = food
        self._at_c: FloatArray = np.arange(*GRID_C)
        self._held_j_g = _held_j_g(food, self._at_c)
        self._low_j_g = float(self._held_j_g[0])
        even = np.arange(self._low_j_g, self._held_j_g[-1], HELD_STEP_J_G)
        self._table_c: list[float] = np.interp(even, self._held_j_g, self._at_c).tolist()

    def held(self, temperature_c: float) -> float:
        """Heat in a gram at this temperature."""
        return float(np.interp(temperature_c, self._at_c, self._held_j_g))

    def temperature(self, held_j_g: float) -> float:
        """Temperature of food that holds this heat, to 0.1 K."""
        place = (held_j_g - self._low_j_g) / HELD_STEP_J_G
        below = int(place)
        low_c = self._table_c[below]
        return low_c + (place - below) * (self._table_c[below + 1] - low_c)


def _held_j_g(food: Composition, at_c: FloatArray) -> FloatArray:
    ice_g = food.water * np.array([food.ice_share(one) for one in at_c.tolist()])
    capacity = food.specific_heat_j_g_k(at_c) - ice_g * (WATER[0] / 1000.0 - ICE_J_G_K)
    steps = np.diff(at_c) * (capacity[1:] + capacity[:-1]) / 2.0
    sensible = np.concatenate(([0.0], np.cumsum(steps)))
    held: FloatArray = sensible - np.interp(0.0, at_c, sensible) - MELTING_J_G * ice_g
    return held
