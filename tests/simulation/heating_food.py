"""Heat a meal step by step: field, conduction, thawing, boiling, evaporation, and the dish under it all.

Each layer holds heat; its temperature follows from that. A layer cannot pass the boiling point: what it gains beyond turns
water into steam. The load takes up less than the oven is rated at, the more so the smaller it is; the dish takes some too.
Water that was lost goes on counting in the heat capacity of its layer.
"""

from dataclasses import dataclass
from math import exp, pi, sin

from tests.simulation.composition import HeatCurve
from tests.simulation.cover import Cover, Headspace, saturated_g_m3
from tests.simulation.meals import Layers, Meal
from tests.simulation.oven import STEP_S
from tests.simulation.piece import Piece
from tests.simulation.water import boiling_c, evaporating_j_g

DISH_J_G_K = 0.7
AIR_W_M2_K = 12.0
OPEN_DRAUGHT_L_S = 1.0
TESTED_LOAD_G = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Magnetron:
    """The oven as its load sees it. At `half_load_g` a load takes up half of what a very large one would."""

    rated_w: float
    output_share: float
    warm_droop: float
    half_load_g: float
    turntable_s: float
    ripple_share: float
    dish_share: float
    altitude_m: float

    def absorbed_w(self, load_g: float, level: float, at_s: float) -> float:
        """Power that reaches dish and food; a litre of water takes up the whole output, as the rating is measured."""
        warm = 1.0 - self.warm_droop * (1.0 - exp(-at_s / 120.0))
        taken = load_g / (load_g + self.half_load_g) * (1.0 + self.half_load_g / TESTED_LOAD_G)
        turning = 1.0 + self.ripple_share * sin(2.0 * pi * at_s / self.turntable_s)
        return self.rated_w * self.output_share * level * warm * taken * turning


@dataclass(frozen=True, slots=True, kw_only=True)
class Kitchen:
    """The air that the food breathes into."""

    air_c: float
    vapour_g_m3: float


class FoodOnDish:
    """The running state of one heating: pieces, dish and the space above them.

    Attributes:
        pieces: the food.
        boiled_g_s, out_g_s: in the last step, steam that boiled out of the food and vapour that got past the cover.
        lost_g: water that has left the food for good.
        absorbed_j, left_j: heat that the food has taken up from the field, and that has left it again.
    """

    def __init__(self, meal: Meal, layers: list[Layers], magnetron: Magnetron, cover: Cover, kitchen: Kitchen) -> None:
        self._meal, self._magnetron, self._kitchen = meal, magnetron, kitchen
        self._boils_c = boiling_c(magnetron.altitude_m)
        curve = HeatCurve(meal.composition)
        self.pieces = [Piece(one, curve, meal.start_c, self._boils_c) for one in layers]
        self._headspace = Headspace(cover, kitchen.air_c, kitchen.vapour_g_m3)
        self._dish_c = kitchen.air_c
        self._dish_j_k = meal.dish_g * DISH_J_G_K
        self.boiled_g_s = self.out_g_s = self.lost_g = self.absorbed_j = self.left_j = 0.0

    @property
    def coldest_c(self) -> float:
        """Temperature of the coldest layer."""
        return min(min(piece.temperature_c) for piece in self.pieces)

    def step(self, level: float, at_s: float, *, door_open: bool) -> None:
        """Heat for one step of `STEP_S`."""
        if level > 0.0:
            self._heat(self._magnetron.absorbed_w(self._meal.load_g, level, at_s))
        steam_j = 0.0
        for piece in self.pieces:
            piece.conduct(STEP_S)
            steam_j += piece.boil(self._meal.porous_share, STEP_S)
        self.left_j += steam_j
        self.boiled_g_s = steam_j / STEP_S / evaporating_j_g(self._boils_c)
        self._breathe(OPEN_DRAUGHT_L_S if door_open else 0.0)
        for piece in self.pieces:
            piece.settle()

    def stir(self) -> None:
        """Mix all of the food, as well as the meal's cook does."""
        even_j_g = sum(sum(piece.held_j) for piece in self.pieces) / self._meal.load_g
        for piece in self.pieces:
            piece.stir(self._meal.stirred_share, even_j_g)

    def _heat(self, absorbed_w: float) -> None:
        """Share the power between the dish and the layers."""
        dish_w = absorbed_w * self._magnetron.dish_share
        self._dish_c += STEP_S * dish_w / self._dish_j_k
        food_j = STEP_S * (absorbed_w - dish_w)
        self.absorbed_j += food_j
        uptakes = [piece.uptake() for piece in self.pieces]
        joule = food_j / sum(sum(uptake) for uptake in uptakes)
        for piece, uptake in zip(self.pieces, uptakes, strict=True):
            piece.gain([weight * joule for weight in uptake])

    def _breathe(self, draught_l_s: float) -> None:
        """Let the food's edges give water and heat to the space above, and heat to air and dish."""
        meal, headspace = self._meal, self._headspace
        surfaces = [
            (saturated_g_m3(piece.temperature_c[0]), piece.layers.surface_m2 * meal.wet_share) for piece in self.pieces
        ]
        headspace.step(surfaces, self.boiled_g_s, draught_l_s, STEP_S)
        off_food_g_s = [headspace.off_surface_g_s(*surface) for surface in surfaces]
        for piece, off_g_s in zip(self.pieces, off_food_g_s, strict=True):
            self._cool(piece, off_g_s)
        self.out_g_s = headspace.out_g_s
        self.lost_g += STEP_S * (self.boiled_g_s + sum(off_food_g_s) - headspace.dew_g_s)

    def _cool(self, piece: Piece, off_g_s: float) -> None:
        edge_c = piece.temperature_c[0]
        share = sum(piece.layers.mass_g) / self._meal.load_g
        to_dish_w = self._meal.dish_w_k * share * (edge_c - self._dish_c)
        to_air_w = AIR_W_M2_K * piece.layers.surface_m2 * (edge_c - self._kitchen.air_c)
        lost_j = STEP_S * (to_dish_w + to_air_w + off_g_s * evaporating_j_g(edge_c))
        piece.held_j[0] -= lost_j
        self.left_j += lost_j
        self._dish_c += STEP_S * to_dish_w / self._dish_j_k
