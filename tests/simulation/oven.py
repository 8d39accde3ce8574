"""The oven: when its magnetron runs, where its field is strong, and how it heats each kernel.

Each kernel gains heat from the field at the place where the turntable has carried it, and exchanges heat with the fat
and air of its bag, which lose heat to the cavity, the more so as steam leaves the popping corn. The power that corn takes
up falls with the load in the oven; flakes take up less than kernels; a warm magnetron gives less. Popping jostles what is
left to other places in the field.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.simulation.kernels import FloatArray, Kernels

STEP_S = 0.5
ROOM_C = 22.0
SPECIFIC_HEAT_J_G_K = 2.0
PHASES = 12
JOSTLED_AT = (0.06, 0.18, 0.35, 0.55, 0.8)
ENOUGH_AFTER_S = 60.0

PowerReadings = list[tuple[float, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Oven:
    """One oven with one bag in it. Shares are of one; `output_share` is what is left of the rating."""

    rated_w: float
    output_share: float
    warm_droop: float
    uptake_share: float
    other_load_g: float
    turntable_s: float
    field_amplitude: float
    field_cell_cm: float
    off_centre_cm: float
    jostle_cm: float
    stranded_share: float
    flake_uptake_share: float
    exchange_per_s: float
    bag_heat_share: float
    bag_loss_per_s: float
    off_loss_share: float
    steam_loss_factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerPlan:
    """When the magnetron runs. A period or pause of 0 s means none.

    There are as many pauses, so far apart, the first when a share of all that will pop has popped, where one is given; from
    `fades_at_s` on, unless that is 0, the magnetron gives the share `fades_to` of what it should.
    """

    level: float
    cycle_s: float
    cycle_on_share: float
    pause_at_s: float
    pause_s: float
    fan_first_s: float
    said: float
    pauses: float
    pause_apart_s: float
    pause_at_popped: float
    fades_at_s: float
    fades_to: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heating:
    """A cook's heat on steps of `STEP_S`: arrays of shape (steps,), or (steps, kernels) for `hottest_c`."""

    time_s: FloatArray
    level: FloatArray
    hottest_c: FloatArray
    expected_popped: FloatArray
    at_heat: FloatArray


def power_readings(plan: PowerPlan, until_s: float) -> PowerReadings:
    """Changes of level as the oven would report them, from 0 until `until_s`."""
    start_s = round(max(plan.fan_first_s, 0.0), 2)
    readings = [(0.0, 0.0)] if start_s > 0.0 else []
    readings.append((start_s, round(plan.level, 2)))
    if plan.cycle_s > 0.0:
        readings += _cycles(plan, start_s, until_s)
    if plan.pause_s > 0.0:
        for pause in range(max(round(plan.pauses), 1)):
            began_s = plan.pause_at_s + pause * (plan.pause_s + plan.pause_apart_s)
            readings += [(round(began_s, 2), 0.0), (round(began_s + plan.pause_s, 2), round(plan.level, 2))]
    return readings


def _cycles(plan: PowerPlan, start_s: float, until_s: float) -> PowerReadings:
    """The magnetron's own switching, each cycle beginning with its share of heat."""
    readings: PowerReadings = []
    at_s = start_s
    while at_s < until_s:
        off_s = at_s + plan.cycle_s * plan.cycle_on_share
        at_s += plan.cycle_s
        readings += [(round(off_s, 2), 0.0), (round(at_s, 2), round(plan.level, 2))]
    return readings


def as_given(plan: PowerPlan, readings: PowerReadings) -> PowerReadings:
    """The levels that the magnetron gives where it should give those of the readings."""
    if plan.fades_at_s <= 0.0:
        return readings
    before = [(t, level) for t, level in readings if t < plan.fades_at_s]
    after = [(plan.fades_at_s, before[-1][1]), *readings[len(before) :]]
    return before + [(t, level * plan.fades_to) for t, level in after]


def level_in_steps(readings: PowerReadings, edges_s: FloatArray) -> FloatArray:
    """Mean level within each step between edges."""
    at_s = np.array([t for t, _ in readings] + [edges_s[-1] + 1.0])
    levels = np.array([level for _, level in readings])
    heat = np.concatenate(([0.0], np.cumsum(levels * np.diff(at_s))))
    return np.diff(np.interp(edges_s, at_s, heat)) / np.diff(edges_s)


def field_tables(oven: Oven, count: int, rng: np.random.Generator) -> FloatArray:
    """Field strength of shape (places in time, turns, kernels), mean one over kernels and turns."""
    bag_cm = 3.5 + 0.12 * np.sqrt(count)
    radius_cm, bearing = bag_cm * np.sqrt(rng.random(count)), rng.random(count) * 2 * np.pi
    place = np.stack([radius_cm * np.cos(bearing) + oven.off_centre_cm, radius_cm * np.sin(bearing)])
    waves = _standing_waves(oven, rng)
    tables = [_field_over_turn(place, waves, oven)]
    uptake = np.ones(count)
    for _ in JOSTLED_AT:
        place = place + rng.normal(0.0, oven.jostle_cm, place.shape)
        uptake = np.where(rng.random(count) < oven.stranded_share, uptake * 0.86, uptake)
        tables.append(_field_over_turn(place, waves, oven) * uptake)
    return np.stack(tables)


def _standing_waves(oven: Oven, rng: np.random.Generator) -> FloatArray:
    """Three standing waves as rows of (x wave number, y wave number, phase, amplitude)."""
    angle = rng.random(3) * 2 * np.pi
    number = 2 * np.pi / (oven.field_cell_cm * rng.uniform(0.7, 1.5, 3))
    amplitude = oven.field_amplitude * rng.uniform(0.4, 1.0, 3)
    return np.stack([number * np.cos(angle), number * np.sin(angle), rng.random(3) * 2 * np.pi, amplitude], axis=1)


def _field_over_turn(place: FloatArray, waves: FloatArray, oven: Oven) -> FloatArray:
    """Field at each kernel for each of `PHASES` turns of the table, shape (turns, kernels)."""
    turns = np.arange(PHASES) * (2 * np.pi / PHASES) if oven.turntable_s > 0.0 else np.zeros(PHASES)
    east = np.cos(turns)[:, None] * place[0] - np.sin(turns)[:, None] * place[1]
    north = np.sin(turns)[:, None] * place[0] + np.cos(turns)[:, None] * place[1]
    field = np.ones_like(east)
    for wave_x, wave_y, phase, amplitude in waves:
        field += amplitude * np.cos(wave_x * east + wave_y * north + phase)
    field = np.maximum(field, 0.05)
    normal: FloatArray = field / field.mean()
    return normal


def heated(kernels: Kernels, oven: Oven, readings: PowerReadings, fields: FloatArray, until_s: float) -> Heating:
    """Heat the bag until popping is long over, or until `until_s`."""
    edges_s = np.arange(0.0, until_s + STEP_S, STEP_S)
    levels = level_in_steps(readings, edges_s)
    bag = _Bag(kernels, oven)
    hottest: list[FloatArray] = []
    popped = [0.0]
    for step, level in enumerate(levels.tolist()):
        bag.step(level, edges_s[step], fields)
        hottest.append(bag.hottest_c.copy())
        popped.append(bag.popped)
        if step % 20 == 0 and _over(popped):
            break
    steps = len(hottest)
    return Heating(
        time_s=edges_s[1 : steps + 1],
        level=levels[:steps],
        hottest_c=np.stack(hottest),
        expected_popped=np.array(popped[1:]),
        at_heat=np.array(bag.at_heat),
    )


def _over(popped: Sequence[float]) -> bool:
    """Whether fewer than one kernel in eight seconds has been expected to pop for a while."""
    back = round(ENOUGH_AFTER_S / STEP_S)
    return len(popped) > back and popped[-back] > 1.0 and popped[-1] - popped[-back] < ENOUGH_AFTER_S / 8.0


class _Bag:
    """The running state of one heating: temperatures of kernels and of the fat and air between them."""

    def __init__(self, kernels: Kernels, oven: Oven) -> None:
        self._kernels, self._oven = kernels, oven
        self._kernel_c = np.full(len(kernels), ROOM_C)
        self._bag_c = ROOM_C
        self._mass_g = float(kernels.mass_g.sum())
        self._warmth = self._warmest = ROOM_C
        self.hottest_c = self._kernel_c.copy()
        self.popped = 0.0
        self.at_heat: list[float] = []

    def step(self, level: float, at_s: float, fields: FloatArray) -> None:
        oven = self._oven
        share = self.popped / len(self._kernels)
        place = sum(share > limit for limit in JOSTLED_AT)
        turn = int(at_s / oven.turntable_s * PHASES) % PHASES if oven.turntable_s > 0.0 else 0
        gain = self._gain_k_s(level, at_s, share) * self._kernels.coupling * fields[place, turn]
        exchange = oven.exchange_per_s * (self._kernel_c - self._bag_c)
        loss = oven.bag_loss_per_s * (1.0 + oven.steam_loss_factor * share)
        if level == 0.0:
            loss *= oven.off_loss_share
        self._bag_c += STEP_S * (float(exchange.mean()) / oven.bag_heat_share - loss * (self._bag_c - ROOM_C))
        self._kernel_c = self._kernel_c + STEP_S * (gain - exchange)
        np.maximum(self.hottest_c, self._kernel_c, out=self.hottest_c)
        self._note(level)

    def _gain_k_s(self, level: float, at_s: float, share: float) -> float:
        """Warming by the field of a kernel of coupling one in a field of one."""
        oven = self._oven
        load_g = self._mass_g * (1.0 - (1.0 - oven.flake_uptake_share) * share)
        output_w = oven.rated_w * oven.output_share * level * (1.0 - oven.warm_droop * (1.0 - np.exp(-at_s / 120.0)))
        return float(output_w * oven.uptake_share / (load_g + oven.other_load_g) / SPECIFIC_HEAT_J_G_K)

    def _note(self, level: float) -> None:
        """Note what is expected to have popped, and whether the corn is as hot as it has ever been."""
        self.popped = float(self._kernels.chance_popped(self.hottest_c).sum())
        self._warmth = float(self._kernel_c.mean())
        self.at_heat.append(float(level > 0.0 and self._warmth >= self._warmest - 0.5))
        self._warmest = max(self._warmest, self._warmth)
