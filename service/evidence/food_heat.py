"""How much heat food holds, from what it is made of.

Model. The specific heat of a food is the sum of those of its components by mass share, each a quadratic of the
temperature T in degrees Celsius. What is left when the shares of water, protein and fat are taken off is carbohydrate.

Range. 0 to 100 degrees Celsius, thawed. Within an eighth of measured values for common foods; ice and its melting are left
out.

Reference. Y. Choi and M. R. Okos (1986), Effects of temperature and composition on the thermal properties of foods, in Food
Engineering and Process Applications 1:93-101. The slope of fat is the commonly tabulated 1.4733 (one copy prints 1.4373).
"""

# J/kg K at T degrees Celsius, as (constant, per degree, per degree squared).
WATER = (4176.2, -0.0909, 5.4731e-3)
PROTEIN = (2008.2, 1.2089, -1.3129e-3)
FAT = (1984.2, 1.4733, -4.8008e-3)
CARBOHYDRATE = (1548.8, 1.9625, -5.9399e-3)


def component_heat_j_g_k(component: tuple[float, float, float], temperature_c: float) -> float:
    """Specific heat in J/g K of one of the components above at a temperature in degrees Celsius."""
    constant, slope, bend = component
    return (constant + slope * temperature_c + bend * temperature_c**2) / 1000.0


def specific_heat_j_g_k(water: float, protein: float, fat: float, temperature_c: float) -> float:
    """Specific heat in J/g K of a food with these mass shares of one, at a temperature in degrees Celsius.

    Raises ValueError for shares below zero or of more than one together.
    """
    carbohydrate = 1.0 - water - protein - fat
    if min(water, protein, fat, carbohydrate) < -1e-9:
        raise ValueError(f"mass shares must lie from 0 to 1 and not exceed 1 together; got {water}, {protein}, {fat}")
    parts = ((water, WATER), (protein, PROTEIN), (fat, FAT), (carbohydrate, CARBOHYDRATE))
    return sum(share * component_heat_j_g_k(component, temperature_c) for share, component in parts)
