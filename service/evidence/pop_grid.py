"""The tables that the likelihood of the pops is read from: everything that no pop changes.

Model. ln u and ln location share one grid of bins STEP wide, so x = ln(u / location) of a bin and a location depends on
the difference of their numbers alone, and one table over x serves all locations. Beyond the bins of
service.evidence.pop_times there is clutter only.
"""

from dataclasses import dataclass
from math import floor

import numpy as np

from service.evidence.pop_times import BINS, CENTRES_X, EDGES_X, LOWEST, STEP, PopTimes
from service.units import FloatArray, IntArray

LOWEST_S, HIGHEST_S = 24.0, 900.0
"""Locations on the grid, on the heating clock (s)."""
LOCATIONS = int(np.log(HIGHEST_S / LOWEST_S) / STEP)
LOG_LOWEST = float(np.log(LOWEST_S))
LOG_FIRST = LOG_LOWEST + LOWEST
"""ln u at the beginning of the first bin, the first that the lowest location reaches; of TIME_BINS."""
TIME_BINS = LOCATIONS + BINS
CLUTTER_SPAN = 3.0
_EVERY = 5
_TINY = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeTable:
    """A table over the edges of the bins of x, to be read off for a run of locations at once.

    ln u is one number and the locations lie a bin apart, so their x fall by one bin from each to the next, and all
    interpolate with the same share: two slices do. The table is held backwards, its ends repeated as far as any
    location can ask; `rise` leads from each row to the one of the next higher x.
    """

    backwards: FloatArray
    rise: FloatArray

    def some(self, every: int) -> "EdgeTable":
        """The same over every so-manieth column."""
        return EdgeTable(
            backwards=np.ascontiguousarray(self.backwards[:, ::every]), rise=np.ascontiguousarray(self.rise[:, ::every])
        )

    def at(self, log_u: float, rows: slice) -> FloatArray:
        """Values at x = log_u - log_location for the locations `rows` of the grid: (m, c)."""
        place = (log_u - LOG_FIRST) / STEP
        whole = floor(place)
        start = min(max(BINS + LOCATIONS - whole, 0), BINS + LOCATIONS + 1)
        asked = slice(start + rows.start, start + rows.stop, rows.step)
        values = self.rise[asked] * (place - whole)
        values += self.backwards[asked]
        return values


def edge_table(values: FloatArray) -> EdgeTable:
    """From values (BINS + 1, c) at the edges of the bins of x."""
    ends = (np.repeat(values[-1:], LOCATIONS, axis=0), values[::-1], np.repeat(values[:1], LOCATIONS + BINS, axis=0))
    backwards = np.concatenate(ends)
    return EdgeTable(backwards=backwards, rise=-np.diff(backwards, axis=0, prepend=backwards[:1]))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
    """Every form at every share of clutter, C columns.

    Attributes:
        form: (C,) index into the forms.
        clutter: (C,) share of clutter.
        log_prior: (C,) logarithm of the prior weight.
        log_density: (2 LOCATIONS + BINS - 1, C) logarithm of the mixed density of ln u, at the x of every bin and
            location; the number of a bin less that of a location, and LOCATIONS - 1, is the row.
        cdf_mixed: its distribution.
    """

    form: IntArray
    clutter: FloatArray
    log_prior: FloatArray
    log_density: FloatArray
    cdf_mixed: EdgeTable

    def some(self, every: int) -> "Columns":
        """Every so-manieth column."""
        return Columns(
            form=self.form[::every],
            clutter=self.clutter[::every],
            log_prior=self.log_prior[::every],
            log_density=np.ascontiguousarray(self.log_density[:, ::every]),
            cdf_mixed=self.cdf_mixed.some(every),
        )

    def log_mixed(self, ahead: int, bins: int) -> FloatArray:
        """(bins, C) of log_density from a bin on whose number is `ahead` of the location's."""
        return self.log_density[LOCATIONS - 1 + ahead : LOCATIONS - 1 + ahead + bins]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PopGrid:
    """The tables for M locations.

    Attributes:
        log_location: (M,) logarithm of the location in s on the heating clock.
        columns: all columns, and `few`: some of them, to find the region that matters.
        forms: what the columns are made of.
    """

    log_location: FloatArray
    columns: Columns
    few: Columns
    forms: PopTimes


def pop_grid(forms: PopTimes, clutter: FloatArray, clutter_weight: FloatArray) -> PopGrid:
    """Build the tables for these shares of clutter with their prior weights."""
    share = clutter[:, None, None]
    cdf = (1.0 - share) * forms.cdf + share * np.minimum(np.exp(EDGES_X) / CLUTTER_SPAN, 1.0)
    columns = Columns(
        form=np.tile(np.arange(forms.spread.size, dtype=np.int32), clutter.size),
        clutter=np.repeat(clutter, forms.spread.size),
        log_prior=(np.log(clutter_weight)[:, None] + forms.log_prior).ravel(),
        log_density=_log_density(forms, share),
        cdf_mixed=edge_table(cdf.reshape(-1, BINS + 1).T),
    )
    return PopGrid(
        log_location=LOG_LOWEST + np.arange(LOCATIONS, dtype=np.float64) * STEP,
        columns=columns,
        few=columns.some(_EVERY),
        forms=forms,
    )


def _log_density(forms: PopTimes, share: FloatArray) -> FloatArray:
    """Of ln u, which is that of u / location times u / location: what is left out is the same for all locations."""
    mixed = (1.0 - share) * forms.density * np.exp(-CENTRES_X) + share / CLUTTER_SPAN
    beyond = np.broadcast_to(np.log(share / CLUTTER_SPAN), (*mixed.shape[:2], LOCATIONS - 1))
    # The first bin of ln u is the one that the lowest location reaches, the last that of the highest.
    x = CENTRES_X[0] + np.arange(1 - LOCATIONS, BINS + LOCATIONS) * STEP
    log_density = np.concatenate((beyond, np.log(mixed + _TINY), beyond, beyond[..., :1]), axis=2) + x
    return np.ascontiguousarray(log_density.reshape(-1, x.size).T)
