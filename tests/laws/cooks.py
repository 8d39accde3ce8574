"""What the laws of the readings are tried on: readings of any kind, as they come, and the cooks that they make."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeAlias

from hypothesis import strategies as st

from service.readings.cook import Cook


@dataclass(frozen=True, slots=True)
class Pop:
    t_s: float


@dataclass(frozen=True, slots=True)
class Humidity:
    t_s: float
    rh_pct: float
    air_c: float | None


@dataclass(frozen=True, slots=True)
class Power:
    t_s: float
    level: float


@dataclass(frozen=True, slots=True)
class Restart:
    t_s: float


Reading: TypeAlias = Pop | Humidity | Power | Restart

# Few distinct moments beside the whole range, so that readings often contradict each other at the same one.
times_s = st.one_of(
    st.sampled_from([0.0, 0.0004, 0.001, 1.0, 1.0004, 1.0006, 2.5, 60.0, 7200.0]),
    st.floats(0.0, 7200.0),
    st.integers(0, 600).map(float),
)
airs_c = st.none() | st.floats(-50.0, 300.0) | st.sampled_from([20.0, 20.04, 20.1])
humidities_pct = st.floats(0.0, 100.0) | st.sampled_from([0.0, 40.0, 40.04, 40.1, 100.0])
levels = st.floats(0.0, 1.0) | st.sampled_from([0.0, 0.5, 1.0])
readings = st.one_of(
    st.builds(Pop, times_s),
    st.builds(Humidity, times_s, humidities_pct, airs_c),
    st.builds(Power, times_s, levels),
    st.builds(Restart, times_s),
)
batches = st.lists(readings, max_size=40)


def cook_of(batch: Iterable[Reading]) -> Cook:
    """The cook of readings in the order in which they came."""
    batch = list(batch)
    return Cook.of(
        pops_s=[reading.t_s for reading in batch if isinstance(reading, Pop)],
        humidity=[(reading.t_s, reading.rh_pct, reading.air_c) for reading in batch if isinstance(reading, Humidity)],
        power=[(reading.t_s, reading.level) for reading in batch if isinstance(reading, Power)],
        restarts_s=[reading.t_s for reading in batch if isinstance(reading, Restart)],
    )


cooks = batches.map(cook_of)
