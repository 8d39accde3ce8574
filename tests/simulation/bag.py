"""The bag: it holds the steam of its first pops, opens, and lets the rest through.

Three streams leave it, in grams a second on the steps of the heating: the cloud when it bursts, the steam of pops after that, and
water boiled off by the magnetron's power once there is a way out. A bag that seeps lets some steam through from the beginning;
one that opens twice lets out part of its cloud early and slowly.
"""

from dataclasses import dataclass

import numpy as np

from tests.simulation.kernels import FloatArray, Kernels
from tests.simulation.oven import STEP_S, Heating


@dataclass(frozen=True, slots=True, kw_only=True)
class Bag:
    """How one bag lets its steam out. Shares are of one; `twice` of 0 means it opens once."""

    flash_share: float
    opens_at_share: float
    burst_share: float
    burst_s: float
    boiled_share: float
    seep_share: float
    twice: float
    first_share: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Steam:
    """Steam that left the bag, g/s on the steps of the heating, and when the bag opened."""

    release_g_s: FloatArray
    opened_s: float


def pop_times_s(kernels: Kernels, heating: Heating) -> FloatArray:
    """When each kernel popped on the cook clock; infinity for those that never did."""
    pressure = kernels.pressure_kpa(heating.hottest_c)
    over = (pressure >= kernels.bears_kpa) & kernels.whole
    step = np.argmax(over, axis=0)
    each = np.arange(len(kernels))
    after, before = pressure[step, each], pressure[np.maximum(step - 1, 0), each]
    into = (kernels.bears_kpa - before) / np.maximum(after - before, 1e-9)
    times = heating.time_s[step] - STEP_S * (1.0 - np.clip(into, 0.0, 1.0))
    return np.where(over.any(axis=0), times, np.inf)


def steam_let_out(bag: Bag, kernels: Kernels, heating: Heating, popped_s: FloatArray) -> Steam:
    """The steam that leaves the bag, step by step."""
    popped = np.isfinite(popped_s)
    edges_s = np.append(heating.time_s - STEP_S, heating.time_s[-1])
    flashed, _ = np.histogram(popped_s[popped], edges_s, weights=kernels.water_g[popped])
    so_far = np.cumsum(flashed) / flashed.sum()
    opened = int(np.searchsorted(so_far, bag.opens_at_share))
    total_g = bag.flash_share * float(kernels.water_g.sum())
    shape = _seeping(bag, heating, so_far, opened) + _open_streams(bag, heating, flashed, opened)
    if bag.twice > 0.0:
        first = int(np.searchsorted(so_far, bag.opens_at_share * 0.5))
        shape += bag.burst_share * bag.first_share * _puff(heating, first, 3.0 * bag.burst_s)
        opened = first
    return Steam(release_g_s=total_g * shape, opened_s=float(heating.time_s[opened]))


def _open_streams(bag: Bag, heating: Heating, flashed: FloatArray, opened: int) -> FloatArray:
    """Cloud, pops and boiling after the opening: shares of all steam a second."""
    after = np.arange(len(flashed)) >= opened
    kept = 1.0 - bag.first_share if bag.twice > 0.0 else 1.0
    cloud = bag.burst_share * kept * (1.0 - bag.seep_share) * _puff(heating, opened, bag.burst_s)
    rest = (1.0 - bag.burst_share) * (1.0 - bag.seep_share)
    pops = rest * (1.0 - bag.boiled_share) * _share_per_s(flashed * after)
    still_wet = np.exp(-(heating.time_s - heating.time_s[opened]) / 40.0)
    boiling = rest * bag.boiled_share * _share_per_s(heating.level * still_wet * after)
    return cloud + pops + boiling


def _seeping(bag: Bag, heating: Heating, so_far: FloatArray, opened: int) -> FloatArray:
    """What creeps out before the bag opens, growing with the heat of the corn and the pops."""
    before = np.arange(len(so_far)) < opened
    hot = np.clip((heating.hottest_c.mean(axis=1) - 95.0) / 90.0, 0.0, 1.0) ** 2
    return bag.seep_share * _share_per_s((0.5 * hot + so_far) * before * (heating.level > 0.0))


def _puff(heating: Heating, opened: int, lasting_s: float) -> FloatArray:
    """A cloud that comes out from a step on, dying away with a time constant; shares of the cloud a second."""
    since_s = heating.time_s - heating.time_s[opened]
    return _share_per_s(np.where(since_s >= 0.0, np.exp(-np.maximum(since_s, 0.0) / lasting_s), 0.0))


def _share_per_s(weights: FloatArray) -> FloatArray:
    return weights / max(float(weights.sum()) * STEP_S, 1e-12)
