"""The food: pieces of nested layers, hot at the edge and cold at the core.

A piece is a body of some half-depth whose layers are shells. The field weakens with depth as exp(-depth / penetration), some
shapes focus it a little towards the middle, and the core may lie in a cold spot. Layers conduct into each other as shells of
that size do; in a liquid they also mix. The pieces of a meal differ in mass and in their share of the field.
"""

from dataclasses import dataclass

import numpy as np

from tests.simulation.composition import Composition
from tests.simulation.kernels import FloatArray
from tests.simulation.oven import STEP_S

SHELLS = np.array([1.0, 0.8, 0.58, 0.36, 0.0])
MIDDLES = (SHELLS[1:] + SHELLS[:-1]) / 2.0
# A layer passes on at most this share of a difference in one step, so that explicit steps stay calm.
PASSED_ON_MOST = 0.2
ROUGH_HEAT_J_G_K = 3.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Meal:
    """One meal and its dish. Shares are of one; roundness is 1 for a slab, 2 for a cylinder, 3 for a ball."""

    load_g: float
    start_c: float
    water_share: float
    protein_share: float
    fat_share: float
    freezes_c: float
    pieces: float
    uneven_mass: float
    uneven_field: float
    half_depth_cm: float
    roundness: float
    penetration_cm: float
    focus: float
    cold_spot: float
    conducts_w_m_k: float
    mixing_w_g_k: float
    porous_share: float
    wet_share: float
    bears_loss_share: float
    dish_g: float
    dish_w_k: float
    stirred_share: float

    @property
    def composition(self) -> Composition:
        """What it is made of."""
        return Composition(
            water=self.water_share, protein=self.protein_share, fat=self.fat_share, freezes_c=self.freezes_c
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Layers:
    """One piece, from its edge to its core. `conducts_w_k` lies between neighbours; `uptake` is the share of the food's heat."""

    mass_g: list[float]
    uptake: list[float]
    conducts_w_k: list[float]
    surface_m2: float


def laid_out(meal: Meal, rng: np.random.Generator) -> list[Layers]:
    """Split a meal into pieces and layers."""
    pieces = max(1, round(meal.pieces))
    share = np.maximum(0.3, 1.0 + meal.uneven_mass * rng.uniform(-1.0, 1.0, pieces))
    piece_g = meal.load_g * share / share.sum()
    depth_cm = meal.half_depth_cm * (share / share.mean()) ** (1.0 / 3.0)
    surface_m2 = meal.roundness * piece_g * 1e-6 / (depth_cm * 1e-2)
    mass_g = piece_g[:, None] * -np.diff(SHELLS**meal.roundness)
    field = np.maximum(0.4, 1.0 + meal.uneven_field * rng.uniform(-1.0, 1.0, pieces))
    uptake = mass_g * field[:, None] * _field_at_depth(meal, depth_cm)
    between_w_k = _between_layers(meal, surface_m2, depth_cm) + meal.mixing_w_g_k * piece_g[:, None]
    most_w_k = PASSED_ON_MOST * ROUGH_HEAT_J_G_K * np.minimum(mass_g[:, 1:], mass_g[:, :-1]) / STEP_S
    columns = (mass_g, uptake / uptake.sum(), np.minimum(between_w_k, most_w_k), surface_m2)
    return [
        Layers(mass_g=mass, uptake=taken, conducts_w_k=conducts, surface_m2=surface)
        for mass, taken, conducts, surface in zip(*(column.tolist() for column in columns), strict=True)
    ]


def _field_at_depth(meal: Meal, depth_cm: FloatArray) -> FloatArray:
    """Strength of the field in each layer, shape (pieces, layers)."""
    weakened: FloatArray = np.exp(-(1.0 - MIDDLES) * depth_cm[:, None] / meal.penetration_cm) * MIDDLES**-meal.focus
    weakened[:, -1] *= meal.cold_spot
    return weakened


def _between_layers(meal: Meal, surface_m2: FloatArray, depth_cm: FloatArray) -> FloatArray:
    """Conduction between neighbours: conductivity times the area between them over the distance of their middles."""
    area_m2 = surface_m2[:, None] * SHELLS[1:-1] ** (meal.roundness - 1.0)
    between_w_k: FloatArray = meal.conducts_w_m_k * area_m2 / (-np.diff(MIDDLES) * depth_cm[:, None] * 1e-2)
    return between_w_k
