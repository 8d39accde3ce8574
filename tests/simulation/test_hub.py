"""What a hub makes of a cook is told otherwise, and nothing of it is lost or made up."""

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest

from tests.simulation import SimulatedCook, simulate
from tests.simulation.hub import Hub, as_posted, as_taken
from tests.simulation.network import Post, Reading
from tests.simulation.popcorn_kinds import HARSH_KINDS, USUAL

NOTHING_AMISS = Hub(**{field.name: USUAL["hub"][field.name][0] for field in fields(Hub)})
LOG: list[Post] = [
    {"program": "popcorn", "as_of": 1.0, "readings": {"power": [{"t": 0.0, "level": 1.0}]}},
    *({"as_of": float(t), "readings": {"pops": [t - 0.5]}} for t in range(2, 41)),
]
READINGS: list[Reading] = [
    (0.0, "power", {"t": 0.0, "level": 1.0}),
    (8.0, "power", {"t": 8.0, "level": 0.0}),
    (10.0, "power", {"t": 10.0, "level": 1.0}),
    *((float(t), "humidity", {"t": float(t), "rh_pct": 40.0}) for t in range(20)),
    (12.5, "pops", 12.5),
]


def pops_of(log: list[Post]) -> list[float]:
    return [t for post in log for t in post["readings"].get("pops", ())]


def told(hub: Hub, field: str) -> list[Any]:
    return [value for _, of, value in as_taken(hub, READINGS) if of == field]


def pops_heard(cook: SimulatedCook) -> np.typing.NDArray[np.float64]:
    return np.sort(pops_of(cook.log))


def test_a_hub_that_does_nothing_amiss_changes_nothing() -> None:
    assert as_posted(NOTHING_AMISS, LOG) == LOG
    assert as_taken(NOTHING_AMISS, READINGS) == READINGS


@pytest.mark.parametrize(
    "amiss", [{"posts_every_s": 7.0}, {"arrives_late_s": 6.0}, {"outage_at_s": 10.0, "outage_s": 12.0}]
)
def test_however_posts_get_through_each_reading_does_once_and_after_it_was_taken(amiss: dict[str, float]) -> None:
    posted = as_posted(replace(NOTHING_AMISS, **amiss), LOG)
    assert pops_of(posted) == pops_of(LOG)
    assert all(t <= post["as_of"] for post in posted for t in post["readings"].get("pops", ()))
    assert posted[0]["program"] == "popcorn"
    assert posted[-1]["as_of"] == LOG[-1]["as_of"]
    silent_s = np.diff([post["as_of"] for post in posted]).max()
    assert silent_s == max(
        amiss.get("posts_every_s", 1.0), amiss.get("outage_s", 0.0) + 1.0 if "outage_s" in amiss else 1.0
    )


def test_a_clock_that_starts_late_has_lost_what_came_before() -> None:
    late = replace(NOTHING_AMISS, starts_late_s=5.0)
    assert told(late, "pops") == [7.5]
    assert [one["t"] for one in told(late, "humidity")] == [float(t) for t in range(15)]
    assert [one["t"] for one in told(late, "power")] == [0.0, 3.0, 5.0]
    cook = simulate("clock-late", 1, network=False)
    assert cook.truth["stop_window_s"][1] + 38.0 < cook.log[-1]["as_of"]


def test_power_is_told_in_part_late_or_by_a_meter() -> None:
    assert told(replace(NOTHING_AMISS, power_told=0.0), "power") == [{"t": 0.0, "level": 1.0}]
    assert [one["t"] for one in told(replace(NOTHING_AMISS, power_late_s=3.0), "power")] == [0.0, 11.0, 13.0]
    metered = told(replace(NOTHING_AMISS, polls_every_s=1.0, meter_noise=0.001, idle_level=0.04), "power")
    assert [one["t"] for one in metered] == [float(t) for t in range(len(metered))]
    assert [one["level"] for one in metered][7:12] == pytest.approx([1.0, 1.0, 0.04, 0.04, 1.0], abs=0.01)


def test_humidity_is_taken_as_seldom_as_is_asked() -> None:
    seldom = told(replace(NOTHING_AMISS, humidity_every_s=6.0), "humidity")
    assert [one["t"] for one in seldom] == [0.0, 6.0, 12.0, 18.0]


@pytest.mark.parametrize("kind", ["rattle-midway", "late-bursts"])
def test_other_sounds_come_beside_the_pops(kind: str) -> None:
    assert HARSH_KINDS[kind]["microphone"]
    cook = simulate(kind, 2, network=False)
    heard, true = pops_heard(cook), np.array(cook.truth["true_pops_s"])
    after_s = cook.truth["stop_window_s"][0]
    assert (heard > after_s).sum() > 1.5 * (true > after_s).sum()


def test_a_microphone_that_is_deaf_for_a_while_hears_again() -> None:
    cook = simulate("mic-gap", 2, network=False)
    heard, true = pops_heard(cook), np.array(cook.truth["true_pops_s"])
    within = heard[(heard > np.quantile(true, 0.05)) & (heard < cook.truth["stop_window_s"][0])]
    longest = int(np.diff(within).argmax())
    assert within[longest + 1] - within[longest] > 5.0
    assert ((true > within[longest]) & (true < within[longest + 1])).sum() > 20


def test_a_pause_at_a_share_of_the_pops_begins_when_they_have_popped() -> None:
    cook = simulate("pause-at-peak", 2, network=False)
    power = [one for post in cook.log for one in post["readings"].get("power", ())]
    off_s = next(one["t"] for one in power if one["level"] == 0.0 and one["t"] > 10.0)
    popped = np.mean(np.array(cook.truth["true_pops_s"]) < off_s)
    assert 0.25 < popped < 0.8
