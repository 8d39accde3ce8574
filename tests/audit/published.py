"""Published sets of cooks, as the tests of the audit need them. Brands are numbers and letters here."""

import numpy as np

from service.units import FloatArray

# A. Dean and D. Voss (1999), Design and Analysis of Experiments, Springer, Table 7.2: percent of kernels popped, by brand
# (1 to 3), power (500, 625 W) and time (4, 4.5, 5 min), two bags each; as kept with the data sets of that book on GitHub,
# clayford/dvdata, popcorn.microwave.txt.
POPPED_BY_TIME = {
    (1, 500): ((73.8, 65.5), (70.3, 91.0), (72.7, 81.9)),
    (1, 625): ((70.8, 75.3), (78.7, 88.7), (74.1, 72.1)),
    (2, 500): ((73.7, 65.8), (93.4, 76.3), (45.3, 47.6)),
    (2, 625): ((79.3, 86.5), (92.2, 84.7), (66.3, 45.7)),
    (3, 500): ((62.5, 65.0), (50.1, 81.5), (51.4, 67.7)),
    (3, 625): ((82.1, 74.5), (71.5, 80.0), (64.0, 77.0)),
}

# The same, Table 7.25: percent of edible kernels out of 200 on a stove, by brand, oil and time (1.5, 1.75, 2 min);
# clayford/dvdata, popcorn.robust.txt.
EDIBLE_BY_TIME = {
    (1, 1): ((45.5, 57.0), (73.5, 83.5), (62.5, 80.0)),
    (1, 2): ((59.0, 52.0), (76.0, 84.5), (83.0, 86.0)),
    (2, 1): ((76.0, 53.0), (58.5, 64.5), (57.5, 51.0)),
    (2, 2): ((86.0, 74.0), (77.0, 69.5), (61.0, 62.5)),
    (3, 1): ((83.5, 67.5), (85.5, 84.0), (81.5, 78.5)),
    (3, 2): ((51.0, 69.0), (66.5, 76.0), (85.5, 78.0)),
}

# Popcorn, in the R package Stat2Data (as in vincentarelbundock/Rdatasets on GitHub): kernels left in bags of two brands, six
# trials each, four minutes; the oven "seemed to get warmer as they went along".
LEFT_A: FloatArray = np.array([26.0, 35.0, 18.0, 14.0, 8.0, 6.0])
LEFT_B: FloatArray = np.array([47.0, 47.0, 14.0, 34.0, 21.0, 37.0])

# A textbook example, from a secondary source: percent of kernels left in eight bags after four minutes.
PERCENT_LEFT: FloatArray = np.array([7.0, 13.2, 10.0, 6.0, 7.8, 2.8, 2.2, 5.2])

# R. V. Hogg and J. Ledolter (1987), Engineering Statistics, as in the documentation of a statistics package: cups of popcorn,
# columns are brands, the first three rows one popper, the last three the other.
YIELD_CUPS: FloatArray = np.array(
    [[5.5, 4.5, 3.5], [5.5, 4.5, 4.0], [6.0, 4.0, 3.0], [6.5, 5.0, 4.0], [7.0, 5.5, 5.0], [7.0, 5.0, 4.5]]
)
# A variant of it with printed answers, from the manual of a course: oil first, then air; rows are brands here.
YIELD_OIL_CUPS = ((6.0, 5.5, 7.0), (5.0, 4.5, 4.0), (3.0, 4.0, 3.5))
YIELD_AIR_CUPS = ((7.0, 6.0, 6.5), (5.0, 5.0, 5.5), (5.0, 4.5, 4.0))

# popcorn, in the R package Rlab: volume of half a cup of corn once popped (ml), in standard order of brand, oil temperature,
# oil quantity (1, 3 tablespoons) and shaking.
VOLUME_ML: FloatArray = np.array(
    [1900, 2350, 1150, 900, 2500, 3250, 2450, 3000, 1650, 3500, 900, 3150, 3050, 4000, 3450, 4150], dtype=np.float64
)


def by_time(
    cells: dict[tuple[int, int], tuple[tuple[float, float], ...]],
) -> tuple[FloatArray, list[int], list[int], list[int]]:
    """Values with their first factor, second factor, and place of the time."""
    rows = [
        (value, first, second, place)
        for (first, second), times in cells.items()
        for place, pair in enumerate(times)
        for value in pair
    ]
    values, first, second, time = zip(*rows, strict=True)
    return np.array(values), list(first), list(second), list(time)
