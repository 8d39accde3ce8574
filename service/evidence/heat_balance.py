"""The heat that goes into a load of food: how much it takes, how much arrives, and what boils away.

Model. A load of mass m and specific heat c takes m c dT to warm by dT. Of its rated output, which is measured on a litre of
water, an oven brings to a load of m grams the share

    power_share * m / (m + half_load_g)

so that a small load takes up much less than the rating says. What arrives once everything boils turns water into steam at the
latent heat L(T) = 2500.9 - 2.315 T - 0.0013 T^2 in J/g, a quadratic through the steam tables at 0, 50 and 100 degrees.

Range. Loads of 50 g to 3 kg. L is within 0.1 % of the steam tables from 0 to 100 degrees Celsius. Time to steam of the whole
mass is an upper bound: food steams at its hot edge first.

References. IEC 60705 (heating water to measure the output; its text from memory); W. Wagner and A. Pruss (2002), J. Phys. Chem.
Ref. Data 31:387-535 (latent heats); the share is our own form for what small loads are seen to take up.
"""


def heat_j(mass_g: float, specific_heat_j_g_k: float, rise_k: float) -> float:
    """Heat in J that warms a mass by so many kelvin."""
    return mass_g * specific_heat_j_g_k * rise_k


def absorbed_share(load_g: float, power_share: float, half_load_g: float) -> float:
    """Share of an oven's rated output that a load of food takes up; `half_load_g` takes up half of a very large one's."""
    return power_share * load_g / (load_g + half_load_g)


def time_to_steam_s(mass_g: float, specific_heat_j_g_k: float, rise_k: float, absorbed_w: float) -> float:
    """Seconds until a mass that takes up `absorbed_w` has warmed evenly by `rise_k`, from its start to boiling."""
    return heat_j(mass_g, specific_heat_j_g_k, rise_k) / absorbed_w


def latent_heat_j_g(temperature_c: float) -> float:
    """Heat in J that evaporates a gram of water at a temperature in degrees Celsius."""
    return 2500.9 - 2.315 * temperature_c - 0.0013 * temperature_c**2


def boiling_share(boiled_g_s: float, boils_c: float, absorbed_w: float) -> float:
    """Share of what is taken up that goes off as so much steam."""
    return boiled_g_s * latent_heat_j_g(boils_c) / absorbed_w
