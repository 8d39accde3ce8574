"""The corn in the bag: one kernel, one small pressure vessel.

A kernel pops when the steam pressure inside it reaches what its hull can bear. The pressure follows the hottest moment
the kernel has had so far: water activity times the saturation pressure at that temperature. The hulls differ: the bearable
pressure scatters about the bag's own mean, so that almost all whole kernels pop near 180 degC (Virot & Ponomarenko 2015,
J. R. Soc. Interface 12:20141247; Hoseney, Zeleznak & Abdelrahman 1983, J. Cereal Sci.: 177 degC, 135 psi). A cracked hull
leaks and never pops. No pop time is drawn anywhere: the times come out of the heating.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Corn:
    """What the corn in one bag is like. All invented ranges about published means."""

    load_g: float
    kernel_share: float
    kernel_mass_g: float
    mass_scatter: float
    moisture_share: float
    moisture_scatter: float
    coupling_scatter: float
    hull_kpa: float
    hull_scatter: float
    cracked_share: float
    slow_share: float
    slow_coupling: float
    slow_apart: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kernels:
    """The kernels of one bag; every array has one entry a kernel."""

    mass_g: FloatArray
    water_g: FloatArray
    coupling: FloatArray
    water_activity: FloatArray
    hull_kpa: float
    hull_scale: float
    bears_kpa: FloatArray
    whole: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.mass_g)

    def pressure_kpa(self, hottest_c: FloatArray) -> FloatArray:
        """Steam pressure in each kernel; the last axis runs over kernels."""
        return self.water_activity * steam_kpa(hottest_c)

    def chance_popped(self, hottest_c: FloatArray) -> FloatArray:
        """Chance that each kernel has popped, over all hulls it might have had."""
        excess = (self.pressure_kpa(hottest_c) / self.hull_kpa - 1.0) / self.hull_scale
        chance: FloatArray = self.whole / (1.0 + np.exp(-excess))
        return chance


def steam_kpa(temperature_c: FloatArray) -> FloatArray:
    """Saturation pressure of water above 100 degC (Antoine's equation, constants from memory; 180 degC: 997 kPa)."""
    pressure: FloatArray = np.exp((8.14019 - 1810.94 / (244.485 + temperature_c)) * np.log(10.0)) * 0.133322
    return pressure


def drawn_kernels(corn: Corn, rng: np.random.Generator) -> Kernels:
    """Draw the kernels of a bag."""
    count = round(corn.load_g * corn.kernel_share / corn.kernel_mass_g)
    mass_g = corn.kernel_mass_g * np.clip(rng.normal(1.0, corn.mass_scatter, count), 0.5, 1.6)
    moisture = np.clip(rng.normal(corn.moisture_share, corn.moisture_scatter, count), 0.06, 0.2)
    shaded = (rng.gamma(5.0, 1.0, count) - 5.0) / np.sqrt(5.0)
    coupling = np.maximum(0.4, 1.0 - corn.coupling_scatter * shaded) * (mass_g / corn.kernel_mass_g) ** 0.15
    hull_scale = corn.hull_scatter * np.sqrt(3.0) / np.pi
    return Kernels(
        mass_g=mass_g,
        water_g=mass_g * moisture,
        coupling=coupling * (moisture / corn.moisture_share) ** 0.2 * _of_slow_ones(corn, count, rng),
        water_activity=1.0 - np.exp(-20.0 * moisture),
        hull_kpa=corn.hull_kpa,
        hull_scale=float(hull_scale),
        bears_kpa=corn.hull_kpa * np.maximum(0.3, 1.0 + rng.logistic(0.0, hull_scale, count)),
        whole=rng.random(count) >= corn.cracked_share,
    )


def _of_slow_ones(corn: Corn, count: int, rng: np.random.Generator) -> FloatArray:
    """Factor on the coupling: of a share of the kernels it is lower, all alike (`slow_apart` 0) or spread up to one (1)."""
    (drawn,) = rng.spawn(1)
    is_slow, apart = drawn.random((2, count))
    lower = corn.slow_coupling + corn.slow_apart * (1.0 - corn.slow_coupling) * apart
    return np.where(is_slow < corn.slow_share, lower, 1.0)
