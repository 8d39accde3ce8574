"""The hub between the sensors and the service: its clock, what it is told of the oven, and how its posts get through.

Everything here is done to a log that is finished: what happened in the oven stays as it was, told otherwise.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.simulation.network import Post, Reading
from tests.simulation.oven import level_in_steps


@dataclass(frozen=True, slots=True, kw_only=True)
class Hub:
    """One hub; of one that does nothing amiss shares are 1, `told` is 1 too, and all else is 0.

    Attributes:
        starts_late_s: its clock starts so long after the heating, or before it where it is negative.
        power_told: share of the readings of power that it is told, the first ones.
        power_late_s: it stamps a change of power so much too late.
        level_share: what it takes a level for, over what it is.
        rated_share, load_share: what it was told of oven and bag, over what they are.
        gap_s: the silence that it asks for, where it does.
        arrives_late_s: every reading reaches it so late.
        posts_every_s: how often it posts.
        outage_at_s, outage_s: no post gets through for so long from here on.
        polls_every_s, meter_noise, idle_level: it reads a meter of the power so often, which errs by so much, and which sees
            lamp and fan while the magnetron is off; where the first is 0 it is told of changes.
        humidity_every_s: it takes a reading of the humidity only so often, where that is seldomer than the sensor's own.
    """

    starts_late_s: float
    power_told: float
    power_late_s: float
    level_share: float
    rated_share: float
    load_share: float
    gap_s: float
    arrives_late_s: float
    posts_every_s: float
    outage_at_s: float
    outage_s: float
    polls_every_s: float
    meter_noise: float
    idle_level: float
    humidity_every_s: float


def as_taken(hub: Hub, readings: Sequence[Reading]) -> list[Reading]:
    """The readings on the hub's own clock, of the power those that it is told."""
    if hub.polls_every_s > 0.0:
        readings = [*(one for one in readings if one[1] != "power"), *_polled(hub, readings)]
    if hub.humidity_every_s > 0.0:
        readings = _seldom(hub.humidity_every_s, readings)
    powers = [reading for reading in readings if reading[1] == "power"]
    told = set(map(id, powers[: max(round(hub.power_told * len(powers)), 1)]))
    taken = [_on_its_clock(hub, reading) for reading in readings if reading[1] != "power" or id(reading) in told]
    return [reading for reading in taken if reading[0] >= 0.0]


def _seldom(every_s: float, readings: Sequence[Reading]) -> list[Reading]:
    """The readings without those of the humidity that come sooner than so long after one that is taken."""
    taken: list[Reading] = []
    next_s = 0.0
    for reading in sorted(readings, key=lambda one: one[0]):
        if reading[1] != "humidity" or reading[0] >= next_s:
            taken.append(reading)
            next_s = reading[0] + every_s if reading[1] == "humidity" else next_s
    return taken


def _polled(hub: Hub, readings: Sequence[Reading]) -> list[Reading]:
    """What a meter reads of the levels."""
    changes = sorted((t, value["level"]) for t, field, value in readings if field == "power")
    if not changes:
        return []
    rng = np.random.default_rng(round(1e6 * hub.meter_noise))
    edges_s = np.arange(0.0, max(t for t, _, _ in readings) + 2.0 * hub.polls_every_s, hub.polls_every_s)
    at_s = edges_s[:-1]
    # It tells the mean since the last time, but for the first.
    levels = np.concatenate(([changes[0][1]], level_in_steps(changes, edges_s)[:-1]))
    levels = np.maximum(levels, hub.idle_level)
    levels = np.clip(levels * rng.normal(1.0, hub.meter_noise, len(levels)), 0.0, 1.0)
    return [(t, "power", {"t": t, "level": level}) for t, level in zip(at_s.tolist(), levels.tolist(), strict=True)]


def _on_its_clock(hub: Hub, reading: Reading) -> Reading:
    t, field, value = reading
    if field == "power":
        # The first is of the start, and no change. What was set before the hub listens holds when it begins to.
        at_s = max(t + (hub.power_late_s if t > 0.0 else 0.0) - hub.starts_late_s, 0.0)
        at_s = round(at_s, 3)
        return at_s, field, {"t": at_s, "level": round(value["level"] * hub.level_share, 2)}
    at_s = round(t - hub.starts_late_s, 3)
    return at_s, field, at_s if field == "pops" else {**value, "t": at_s}


def as_said(hub: Hub, head: Post) -> Post:
    """What the first post says, by what the hub was told."""
    setup = dict(head.get("setup", {}))
    for name, share in (("rated_w", hub.rated_share), ("load_g", hub.load_share)):
        if name in setup:
            setup[name] = float(round(setup[name] * share))
    if hub.gap_s > 0.0:
        setup["gap_s"] = round(hub.gap_s, 1)
    return {**head, "setup": setup} if setup else head


def as_posted(hub: Hub, log: list[Post]) -> list[Post]:
    """The same posts, in the rhythm of the hub and through its outage; the last takes what is left."""
    if hub.arrives_late_s == hub.posts_every_s == hub.outage_s == 0.0:
        return log
    end_s = float(log[-1]["as_of"])
    moments = [
        t for t in _moments(hub, [post["as_of"] for post in log]) if not 0.0 <= t - hub.outage_at_s < hub.outage_s
    ]
    posts: list[Post] = [{"as_of": t, "readings": {}} for t in moments]
    for post in log:
        at_s = min(post["as_of"] + hub.arrives_late_s, end_s)
        place = min(int(np.searchsorted(moments, at_s)), len(moments) - 1)
        for field, values in post["readings"].items():
            posts[place]["readings"].setdefault(field, []).extend(values)
    opening = {key: value for key, value in log[0].items() if key not in ("as_of", "readings")}
    posts[0] = {**opening, **posts[0]}
    return posts


def _moments(hub: Hub, as_of_s: list[float]) -> list[float]:
    """When it posts: as the log does, or at each first moment of the log after so many seconds."""
    moments: list[float] = []
    for t in as_of_s[:-1]:
        if not moments or t - moments[-1] >= hub.posts_every_s:
            moments.append(t)
    return [*moments, as_of_s[-1]]
