"""One piece of food while it is heated: its layers hold heat, pass it on, boil, and catch steam on its way out.

A layer is no single temperature: its hot spots boil while its mean is still some degrees short of the boiling point.
"""

from tests.simulation.composition import HeatCurve
from tests.simulation.meals import Layers

ICE_UPTAKE = 0.25
HOT_SPOTS_K = 6.0
HOT_SPOTS_W_G = 1.0


class Piece:
    """The running state of one piece: heat and temperature of its layers, from its edge to its core."""

    def __init__(self, layers: Layers, curve: HeatCurve, start_c: float, boils_c: float) -> None:
        self.layers, self._curve = layers, curve
        self._full_j = [mass_g * curve.held(boils_c) for mass_g in layers.mass_g]
        self._nearly_j = [mass_g * curve.held(boils_c - HOT_SPOTS_K) for mass_g in layers.mass_g]
        self.held_j = [mass_g * curve.held(start_c) for mass_g in layers.mass_g]
        self.temperature_c = [start_c] * len(layers.mass_g)

    def uptake(self) -> list[float]:
        """Each layer's weight in the field: ice takes up little."""
        made_of = self._curve.made_of
        if min(self.temperature_c) >= made_of.freezes_c:
            return self.layers.uptake
        return [
            uptake * (1.0 - (1.0 - ICE_UPTAKE) * made_of.ice_share(at_c))
            for uptake, at_c in zip(self.layers.uptake, self.temperature_c, strict=True)
        ]

    def gain(self, layers_j: list[float]) -> None:
        """Take up heat, so much a layer."""
        self.held_j = [held_j + more_j for held_j, more_j in zip(self.held_j, layers_j, strict=True)]

    def conduct(self, lasting_s: float) -> None:
        """Let heat flow between neighbours."""
        held_j, at_c = self.held_j, self.temperature_c
        for layer, conducts_w_k in enumerate(self.layers.conducts_w_k):
            inward_j = lasting_s * conducts_w_k * (at_c[layer] - at_c[layer + 1])
            held_j[layer] -= inward_j
            held_j[layer + 1] += inward_j

    def boil(self, porous_share: float, lasting_s: float) -> float:
        """Turn heat into steam; gives the heat of the steam that gets out of the piece."""
        steam_j = 0.0
        for layer, nearly_j in enumerate(self._nearly_j):
            if self.held_j[layer] > nearly_j:
                boiled_j = self._boiled_j(layer, lasting_s)
                self.held_j[layer] -= boiled_j
                steam_j += boiled_j
        return steam_j - self._catch(porous_share * steam_j) if steam_j > 0.0 else 0.0

    def _boiled_j(self, layer: int, lasting_s: float) -> float:
        """What boils in a layer: its hot spots, with the square of how far it has come, and all beyond the boiling point."""
        full_j, nearly_j, held_j = self._full_j[layer], self._nearly_j[layer], self.held_j[layer]
        come = (held_j - nearly_j) / (full_j - nearly_j)
        spots_j = lasting_s * HOT_SPOTS_W_G * self.layers.mass_g[layer] * come * come
        return min(max(spots_j, held_j - full_j), held_j - nearly_j)

    def _catch(self, steam_j: float) -> float:
        """Let steam condense in colder layers, the more the colder; gives the heat that they had room for."""
        room_j = [full_j - held_j for full_j, held_j in zip(self._full_j, self.held_j, strict=True)]
        all_room_j = sum(room_j)
        caught_j = min(steam_j, 0.5 * all_room_j)
        if caught_j > 0.0:
            self.gain([room * caught_j / all_room_j for room in room_j])
        return caught_j

    def stir(self, share: float, even_j_g: float) -> None:
        """Move each layer by this share towards the food's mean heat a gram."""
        even_j = [mass_g * even_j_g for mass_g in self.layers.mass_g]
        self.gain([share * (even - held_j) for even, held_j in zip(even_j, self.held_j, strict=True)])

    def settle(self) -> None:
        """Find the temperatures that go with the heat held."""
        temperature = self._curve.temperature
        self.temperature_c = [
            temperature(held_j / mass_g) for held_j, mass_g in zip(self.held_j, self.layers.mass_g, strict=True)
        ]
