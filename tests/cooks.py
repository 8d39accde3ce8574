"""Small invented cooks that several tests share, and the ways to ask about them."""

from collections.abc import Iterator
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.programs.programme import shipped
from service.readings.cook import EMPTY, Cook
from service.readings.settled import Settled
from service.rules.decide import decide
from service.rules.decision import Decision, Setup
from service.units import vapour_density_g_m3
from tests.simulation import SimulatedCook, simulate
from tests.simulation.network import Post

FloatArray = NDArray[np.float64]

POPCORN = shipped()["popcorn"]
NOTHING_SAID = Setup()
DELAY_S = POPCORN.number("sensor_delay_s")


def drawn_pops_s(kernels: int, peak_s: float, spread_s: float, *, seed: int = 0) -> FloatArray:
    """Pop times of a bag: normal about the peak, at random, sorted."""
    return np.sort(np.abs(np.random.default_rng(seed).normal(peak_s, spread_s, kernels)))


def steam_g_m3(t_s: FloatArray, *, released_s: float, lag_s: float, rise_g_m3: float = 20.0) -> FloatArray:
    """Vapour over the baseline that a sensor reports of a step at `released_s`, through its delay and a first-order lag."""
    since_s = np.maximum(t_s - released_s - DELAY_S, 0.0)
    return rise_g_m3 * -np.expm1(-since_s / lag_s)


def humidity_rows(t_s: FloatArray, vapour_g_m3: FloatArray, air_c: FloatArray | float = 30.0) -> FloatArray:
    """Readings of a sensor in air of this vapour density, with its temperature beside it."""
    air = np.broadcast_to(np.asarray(air_c, dtype=np.float64), t_s.shape)
    rh_pct = np.minimum(100.0 * vapour_g_m3 / vapour_density_g_m3(100.0, air), 100.0)
    return np.column_stack((t_s, rh_pct, air))


def steaming_rows(
    until_s: float, *, released_s: float, lag_s: float = 3.0, noise_g_m3: float = 0.05, seed: int = 0
) -> FloatArray:
    """A reading a second of 9 g/m3 that rises by 20 when the bag lets its steam out."""
    t_s = np.arange(0.0, until_s + 1e-9)
    noise = np.random.default_rng(seed).normal(0.0, noise_g_m3, t_s.size)
    return humidity_rows(t_s, 9.0 + noise + steam_g_m3(t_s, released_s=released_s, lag_s=lag_s))


def ask(cook: Cook, as_of_s: float, setup: Setup = NOTHING_SAID, settled: Settled | None = None) -> Decision:
    """The decision for one moment."""
    return decide(programme=POPCORN, setup=setup, cook=cook, as_of_ms=round(as_of_s * 1000.0), settled=settled)


def told(decision: Decision, sensor: str) -> dict[str, Any]:
    """What was told of the evidence of one sensor."""
    return dict(decision.evidence[sensor])


def asked(
    cook: Cook, moments_s: FloatArray, setup: Setup = NOTHING_SAID, settled: Settled | None = None
) -> Iterator[Decision]:
    """The decisions for these moments, each with what the one before it settled."""
    for as_of_s in moments_s.tolist():
        decision = ask(cook, as_of_s, setup, settled)
        settled = decision.settled
        yield decision


def first_stop(cook: Cook, setup: Setup = NOTHING_SAID, *, from_s: float = 1.0, until_s: float = 490.0) -> Decision:
    """The first stop when asked every second. Fails when there is none."""
    found = next((one for one in asked(cook, np.arange(from_s, until_s), setup) if one.decision == "stop"), None)
    assert found is not None, f"not stopped by {until_s} s"
    return found


@cache
def simulated(kind: str, seed: int) -> SimulatedCook:
    """A simulated cook over a clean link."""
    return simulate(kind, seed, network=False)


@cache
def whole(kind: str, seed: int) -> Cook:
    """All readings of a simulated cook at once."""
    return all_of(simulated(kind, seed))


def all_of(cooked: SimulatedCook) -> Cook:
    """All readings of this cook at once."""
    cook = EMPTY
    for post in cooked.log:
        cook = cook.merged(read(post))
    return cook


def read(post: Post) -> Cook:
    """The readings of one post."""
    readings = post["readings"]
    return Cook.of(
        pops_s=readings.get("pops", ()),
        humidity=[(one["t"], one["rh_pct"], one.get("air_c")) for one in readings.get("humidity", ())],
        power=[(one["t"], one["level"]) for one in readings.get("power", ())],
        restarts_s=readings.get("restarts", ()),
    )
