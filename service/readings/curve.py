"""A curve of straight pieces over the cook clock, as the heating clock is made of."""

from bisect import bisect_right
from typing import NamedTuple

import numpy as np

from service.units import FloatArray


class Curve(NamedTuple):
    """Straight between its knots, level before the first and after the last; at least one piece.

    Attributes:
        knots_s: cook seconds in ascending order.
        values: the curve at them.
        columns: both once more, as the rows of an array.
    """

    knots_s: list[float]
    values: list[float]
    columns: FloatArray

    @staticmethod
    def of(knots_s: list[float], values: list[float]) -> "Curve":
        """The curve through these values at these knots."""
        return Curve(knots_s, values, np.array((knots_s, values)))

    def at(self, t_s: float) -> float:
        """Its value at one moment."""
        knots_s, values, _ = self
        after = bisect_right(knots_s, t_s)
        if after == 0 or after == len(knots_s):
            return values[min(after, len(values) - 1)]
        start_s, start = knots_s[after - 1], values[after - 1]
        return start + (values[after] - start) / (knots_s[after] - start_s) * (t_s - start_s)

    def at_all(self, t_s: FloatArray) -> FloatArray:
        """Its values at any array of moments."""
        values: FloatArray = np.interp(t_s, *self.columns)
        return values
