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
        pieces: where each straight piece begins, its value there, and its slope; first the level one before all knots, last
            the one after them.
    """

    knots_s: list[float]
    values: list[float]
    columns: FloatArray
    pieces: list[tuple[float, float, float]]

    @staticmethod
    def of(knots_s: list[float], values: list[float]) -> "Curve":
        """The curve through these values at these knots."""
        ends = zip(knots_s, values, knots_s[1:], values[1:], strict=False)
        # Nothing is ever read off a piece without any width.
        inner = [(t_s, at, (after - at) / (end_s - t_s) if end_s > t_s else 0.0) for t_s, at, end_s, after in ends]
        pieces = [(knots_s[0], values[0], 0.0), *inner, (knots_s[-1], values[-1], 0.0)]
        return Curve(knots_s, values, np.array((knots_s, values)), pieces)

    def at(self, t_s: float) -> float:
        """Its value at one moment."""
        start_s, start, slope = self.pieces[bisect_right(self.knots_s, t_s)]
        return start + slope * (t_s - start_s)

    def at_all(self, t_s: FloatArray) -> FloatArray:
        """Its values at any array of moments."""
        values: FloatArray = np.interp(t_s, *self.columns)
        return values


def highest_so_far(gained: Curve, lost: Curve) -> Curve:
    """The running maximum of what was gained less what was lost."""
    knots_s, values = [0.0], [0.0]
    before_s = before_u_s = 0.0
    for at_s in sorted({*gained.knots_s, *lost.knots_s}):
        u_s, most = gained.at(at_s) - lost.at(at_s), values[-1]
        if before_u_s < most < u_s:
            # Where it comes back to the highest so far, on the straight piece that leads to this knot.
            knots_s.append(before_s + (most - before_u_s) / (u_s - before_u_s) * (at_s - before_s))
            values.append(most)
        if at_s > knots_s[-1]:
            knots_s.append(at_s)
            values.append(max(u_s, most))
        before_s, before_u_s = at_s, u_s
    return Curve.of(knots_s, values)
