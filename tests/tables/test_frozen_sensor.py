"""Humidity sensors that worked and then froze or fell silent, and what becomes of a cook that nothing else is known of."""

from itertools import pairwise

import numpy as np
import pytest

from service.evidence.frozen import live_samples
from service.evidence.moisture import Moisture, MoistureNumbers, moisture_evidence
from service.evidence.vapour import SATURATED_PERMILLE
from service.readings.cook import Cook
from service.rules.decision import Setup
from tests.cooks import POPCORN, FloatArray, ask, first_stop, humidity_rows, steam_g_m3, steaming_rows

NUMBERS = POPCORN.numbers(MoistureNumbers)
FROZEN_S = POPCORN.number("frozen_s")
STUCK_S = POPCORN.number("stuck_s")
LOST_S = POPCORN.number("lost_s")


def warming(until_s: float, *, resolution_pct: float = 0.1, noise_pct: float = 0.15, seed: int = 0) -> FloatArray:
    """A reading a second of 9 g/m3 in air that warms from 22 to 42 degrees, as a live sensor of this resolution gives it."""
    t_s = np.arange(0.0, until_s + 1e-9)
    rng = np.random.default_rng(seed)
    rows = humidity_rows(t_s, np.full(t_s.size, 9.0), 22.0 + 20.0 * -np.expm1(-t_s / 100.0))
    rows[:, 1] = np.round((rows[:, 1] + rng.normal(0.0, noise_pct, t_s.size)) / resolution_pct) * resolution_pct
    rows[:, 2] = np.round(rows[:, 2] + rng.normal(0.0, 0.1, t_s.size), 1)
    return rows


def frozen(rows: FloatArray, at_s: float, *, columns: tuple[int, ...] = (1, 2)) -> FloatArray:
    """The same, repeating what was read at this moment."""
    after = rows.copy()
    last = int(np.flatnonzero(rows[:, 0] <= at_s)[-1])
    for column in columns:
        after[last:, column] = rows[last, column]
    return after


def humidity_without_air(t_s: FloatArray, rh_pct: FloatArray) -> list[tuple[float, float, None]]:
    return [(t, rh, None) for t, rh in zip(t_s.tolist(), rh_pct.tolist(), strict=True)]


def sensed(rows: FloatArray | list[tuple[float, float, None]], as_of_s: float | None = None) -> Moisture:
    return moisture_evidence(Cook.of(humidity=rows), NUMBERS, as_of_s)


@pytest.mark.parametrize("columns", [(1, 2), (1,)])
@pytest.mark.parametrize("at_s", [30.0, 60.0, 90.0])
def test_a_fine_sensor_that_repeats_one_reading_is_frozen(at_s: float, columns: tuple[int, ...]) -> None:
    rows = frozen(warming(130.0), at_s, columns=columns)
    soon = int(at_s + FROZEN_S / 2.0)
    assert sensed(rows[:soon]).status == "usable"
    found = sensed(rows[: int(at_s + FROZEN_S) + 2])
    assert found.status == "suspect"
    assert found.lived_until_s == pytest.approx(at_s, abs=1.0)


@pytest.mark.parametrize("resolution_pct", [0.1, 0.5, 1.0, 2.0])
@pytest.mark.parametrize("noise_pct", [0.05, 0.3])
def test_a_coarse_sensor_that_repeats_honestly_is_not_frozen(resolution_pct: float, noise_pct: float) -> None:
    for seed in range(10):
        rows = warming(240.0, resolution_pct=resolution_pct, noise_pct=noise_pct, seed=seed)
        assert {sensed(rows[:end]).status for end in range(20, 240, 5)} == {"usable"}


def test_a_coarse_sensor_is_found_frozen_sooner_where_its_thermometer_froze_too() -> None:
    live = warming(160.0, resolution_pct=3.0)
    whole, alone = frozen(live, 60.0), frozen(live, 60.0, columns=(1,))
    assert sensed(whole[:80]).status == "suspect"
    assert sensed(alone[:80]).status == "usable"


@pytest.mark.parametrize("rests_at_s", [20.0, 60.0, 90.0])
def test_a_smooth_sensor_that_comes_to_rest_is_believed_for_a_minute_and_no_longer(rests_at_s: float) -> None:
    """Without noise nothing but the length tells rest from failure; a cook that nothing else is known of must end."""
    t_s = np.arange(0.0, 240.0)
    falling_pct = 14.0 + 17.0 * np.exp(-np.minimum(t_s, rests_at_s) / 40.0)
    rh_pct = np.round(2.0 * falling_pct) / 2.0
    rows = humidity_without_air(t_s, rh_pct)
    resting_s = float(t_s[np.flatnonzero(np.diff(rh_pct))[-1] + 1])
    assert sensed(rows[: int(resting_s + STUCK_S)]).status == "usable"
    assert sensed(rows[: int(resting_s + STUCK_S) + 2]).status == "suspect"
    ended = first_stop(Cook.of(humidity=rows), from_s=60.0)
    assert ended.reasons[0].rule == "nothing-measured"
    assert ended.as_of_s < 200.0


def test_a_smooth_sensor_that_moves_again_after_its_rest_is_believed_again() -> None:
    t_s = np.arange(0.0, 180.0)
    rows = humidity_without_air(t_s, np.round(30.0 - np.minimum(t_s, 50.0) / 5.0 + np.maximum(t_s - 150.0, 0.0)))
    assert sensed(rows[:140]).status == "suspect"
    assert sensed(rows[:160]).status == "usable"


def test_a_humidity_that_never_moves_is_stuck_though_the_thermometer_lives() -> None:
    found = sensed(frozen(warming(70.0), 0.0, columns=(1,)))
    assert found.status == "suspect"
    assert found.lived_until_s == 0.0


def test_a_sensor_that_moves_again_is_believed_again() -> None:
    rows = warming(130.0)
    rows[40:80, 1:] = rows[40, 1:]
    assert sensed(rows[:80]).status == "suspect"
    assert sensed(rows[:90]).status == "usable"


def test_steam_that_was_seen_stays_seen_when_the_sensor_freezes() -> None:
    rows = frozen(steaming_rows(160.0, released_s=85.0), 110.0)
    found = sensed(rows)
    assert found.status == "usable"
    assert found.steam is not None
    assert found.steam.onset_s == pytest.approx(85.0, abs=1.0)


def test_a_frozen_humidity_in_air_that_warms_fast_is_no_steam() -> None:
    """At 90 % the vapour that it seems to show rises by more than a bag's does."""
    t_s = np.arange(0.0, 140.0)
    air_c = 25.0 + 30.0 / (1.0 + np.exp(-(t_s - 90.0) / 10.0))
    rows = humidity_rows(t_s, np.full(t_s.size, 20.0), air_c)
    rows[:, 1] += np.random.default_rng(0).normal(0.0, 0.15, t_s.size)
    found = sensed(frozen(rows, 60.0, columns=(1,)))
    assert found.status == "suspect"
    assert found.steam is None or found.steam.onset_s is None


@pytest.mark.parametrize(("silent_s", "status"), [(LOST_S - 1.0, "usable"), (LOST_S + 1.0, "suspect")])
def test_a_sensor_that_sends_no_more_is_suspect(silent_s: float, status: str) -> None:
    assert sensed(warming(60.0), 60.0 + silent_s).status == status


def test_a_slow_sensor_is_given_five_of_its_own_intervals() -> None:
    slow = warming(100.0)[::5]
    assert sensed(slow, 120.0).status == "usable"
    assert sensed(slow, 130.0).status == "suspect"


@pytest.mark.parametrize("silent", [False, True])
def test_a_cook_without_sound_ends_early_once_its_humidity_sensor_has_failed(*, silent: bool) -> None:
    """With a warning before, with a deadline that shrinks to that end, and later the longer the bag was seen shut."""
    ends_s = []
    for at_s in (30.0, 60.0, 90.0, 120.0):
        live = warming(300.0)
        cook = Cook.of(humidity=live[: int(at_s)] if silent else frozen(live, at_s))
        before, after = ask(cook.until(round(at_s * 1000.0)), at_s), ask(cook, at_s + LOST_S + 3.0)
        assert "humidity-suspect" in [reason.rule for reason in after.reasons]
        assert before.evidence["moisture"]["status"] == "usable"
        stop = first_stop(cook)
        assert stop.reasons[0].rule == "nothing-measured"
        assert after.stop_by_s <= stop.as_of_s + 1.0
        ends_s.append(stop.as_of_s)
    assert all(one <= other for one, other in pairwise(ends_s))
    assert ends_s[0] == pytest.approx(POPCORN.number("half_blind_heating_s"), abs=8.0)
    assert ends_s[-1] < 200.0


def test_a_bag_that_pops_is_heard_out_though_the_humidity_sensor_froze() -> None:
    pops_s = np.sort(np.abs(np.random.default_rng(1).normal(120.0, 15.0, 350)))
    live = Cook.of(pops_s=pops_s, humidity=warming(240.0))
    cook = Cook.of(pops_s=pops_s, humidity=frozen(warming(240.0), 60.0))
    assert first_stop(cook).as_of_s == pytest.approx(first_stop(live).as_of_s, abs=4.0)


def test_vapour_of_the_live_part_alone_is_dated() -> None:
    """Steam that comes after the sensor froze is not seen, and none is made up."""
    t_s = np.arange(0.0, 131.0)
    noise = np.random.default_rng(2).normal(0.0, 0.05, t_s.size)
    rows = humidity_rows(t_s, 9.0 + noise + steam_g_m3(t_s, released_s=85.0, lag_s=3.0))
    assert sensed(frozen(rows, 70.0)).lived_until_s == pytest.approx(70.0, abs=1.0)


def test_a_few_sounds_do_not_keep_a_cook_going_whose_humidity_sensor_has_failed() -> None:
    """Longer than without any sound, and far less long than with a humidity sensor that lives."""
    live, few_s = warming(400.0), [20.0, 95.0, 99.0]
    failed = first_stop(Cook.of(pops_s=few_s, humidity=frozen(live, 40.0)))
    silent = first_stop(Cook.of(humidity=frozen(live, 40.0)))
    living = first_stop(Cook.of(pops_s=few_s, humidity=live))
    assert failed.reasons[0].rule == "nothing-happened"
    assert silent.as_of_s < failed.as_of_s < 240.0
    assert living.as_of_s == POPCORN.number("waiting_heating_s")


def test_what_a_failed_sensor_saw_counts_from_what_is_known_of_oven_and_bag() -> None:
    """Shut until 90 s says a lot of a small bag in a strong oven, and little of a large one in a weak oven."""
    cook = Cook.of(humidity=frozen(warming(480.0), 90.0))
    unseen = Cook.of(humidity=frozen(warming(480.0), 0.0))
    for setup in (Setup(rated_w=1200.0, load_g=50.0), Setup(rated_w=700.0, load_g=100.0)):
        assert first_stop(unseen, setup).as_of_s < first_stop(cook, setup).as_of_s
    later = [
        first_stop(cook, setup).as_of_s / first_stop(unseen, setup).as_of_s
        for setup in (Setup(rated_w=1200.0, load_g=50.0), Setup(rated_w=700.0, load_g=100.0))
    ]
    assert later[0] > later[1] + 0.1


def test_a_sensor_that_repeats_the_end_of_its_scale_is_saturated_and_not_frozen() -> None:
    rows = warming(300.0)
    rows[150:, 1] = 100.0
    rows[150:, 2] = rows[150, 2]
    cook = Cook.of(humidity=rows)
    said = {"stuck_s": NUMBERS.stuck_s, "frozen_s": NUMBERS.frozen_s, "frozen_runs": NUMBERS.frozen_runs}
    assert live_samples(cook, cook.humidity_permille >= SATURATED_PERMILLE, **said) == len(rows)
    assert live_samples(cook, np.zeros(len(rows), dtype=np.bool_), **said) == 151
