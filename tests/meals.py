"""Small invented cooks of food that several tests share, and the ways to ask about them."""

from collections.abc import Iterator

import numpy as np

from service.evidence.first_steam import FirstSteamNumbers
from service.evidence.food_moisture import FoodMoistureNumbers
from service.evidence.steam_growth import GrowthNumbers
from service.programs.programme import Programme, shipped
from service.readings.cook import Cook
from service.readings.settled import Settled
from service.rules.decide import decide
from service.rules.decision import Decision, Setup
from tests.cooks import NOTHING_SAID, FloatArray, humidity_rows

REHEAT = shipped()["reheat"]
MOISTURE_NUMBERS = FoodMoistureNumbers(
    first=REHEAT.numbers(FirstSteamNumbers),
    growth=REHEAT.numbers(GrowthNumbers),
    assumed_air_c=30.0,
    stuck_s=60.0,
    quiet_s=20.0,
    spike_g_m3=2.5,
)
FED = {name: one for name, one in shipped().items() if "acoustic" not in one.led_by}
PowerPairs = list[tuple[float, float]]


def steaming_meal(
    until_s: float,
    *,
    steams_s: float,
    grows_s: float = 18.0,
    noise_g_m3: float = 0.05,
    air_c: float | None = 35.0,
    seed: int = 0,
) -> FloatArray:
    """A reading a second of 9 g/m3 that rises by 15 and creeps on, seen through a lag, when food steams; None: no temperature."""
    t_s = np.arange(0.0, until_s + 1e-9)
    since_s = np.maximum(t_s - steams_s - 3.0, 0.0)
    vapour = 9.0 + 15.0 * -np.expm1(-((since_s / grows_s) ** 1.6)) + 0.02 * since_s
    rows = humidity_rows(t_s, vapour + np.random.default_rng(seed).normal(0.0, noise_g_m3, t_s.size), air_c or 35.0)
    if air_c is None:
        rows[:, 2] = np.nan
    return rows


def meal(
    until_s: float, *, steams_s: float, power: PowerPairs | None = None, pops_s: tuple[float, ...] = (), seed: int = 0
) -> Cook:
    """A meal that steams from `steams_s` on."""
    return Cook.of(
        humidity=steaming_meal(until_s, steams_s=steams_s, seed=seed).tolist(), power=power or (), pops_s=pops_s
    )


def asked_of(
    cook: Cook,
    as_of_s: float,
    setup: Setup = NOTHING_SAID,
    settled: Settled | None = None,
    programme: Programme = REHEAT,
) -> Decision:
    """The decision for one moment."""
    return decide(programme=programme, setup=setup, cook=cook, as_of_ms=round(as_of_s * 1000.0), settled=settled)


def decided(
    cook: Cook, moments_s: FloatArray, setup: Setup = NOTHING_SAID, programme: Programme = REHEAT
) -> Iterator[Decision]:
    """The decisions for these moments, each with what the one before it settled."""
    settled: Settled | None = None
    for as_of_s in moments_s.tolist():
        decision = asked_of(cook, as_of_s, setup, settled, programme)
        settled = decision.settled
        yield decision


def stopped(
    cook: Cook, setup: Setup = NOTHING_SAID, programme: Programme = REHEAT, *, until_s: float = 1000.0
) -> Decision:
    """The first stop when asked every second. Fails when there is none."""
    every = decided(cook, np.arange(1.0, until_s), setup, programme)
    found = next((one for one in every if one.decision == "stop"), None)
    assert found is not None, f"not stopped by {until_s} s"
    return found


def codes(decision: Decision) -> list[str]:
    """The rules that fired."""
    return [reason.rule for reason in decision.reasons]
