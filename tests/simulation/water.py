"""Water: where it boils, and what it takes to evaporate it."""

import numpy as np

SEA_LEVEL_PA = 101325.0


def pressure_pa(altitude_m: float) -> float:
    """Air pressure of the standard atmosphere (ISO 2533)."""
    return float(SEA_LEVEL_PA * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588)


def boiling_c(altitude_m: float) -> float:
    """Boiling point: Antoine's equation for 1 to 100 degC turned round (constants from memory)."""
    return float(1730.63 / (8.07131 - np.log10(pressure_pa(altitude_m) / 133.322)) - 233.426)


def evaporating_j_g(temperature_c: float) -> float:
    """Latent heat of evaporation, a straight line through the steam tables (within 0.5 % from 0 to 100 degC)."""
    return 2502.0 - 2.43 * temperature_c
