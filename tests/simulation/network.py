"""How readings reach the service: a log of posts, in the wire format, one a dict.

A clean log posts once a second what came in that second. Over a bad link posts are skipped, readings come late, twice or
shuffled, and the readings of a lost post are sent again some seconds later; in the end all have arrived.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

Post = dict[str, Any]
Reading = tuple[float, str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One bad link. Shares are of posts for `skipped` and `lost`, of readings for the others."""

    skipped_share: float
    lost_share: float
    late_share: float
    late_s: float
    doubled_share: float


def clean_log(readings: list[Reading], head: Post, until_s: float) -> list[Post]:
    """One post a second, each reading once and in order."""
    moments = [float(second) for second in range(1, int(until_s) + 1)]
    arrivals = [(t, (t, field, value)) for t, field, value in readings]
    return _posts(arrivals, head, moments)


def network_log(
    readings: list[Reading], head: Post, until_s: float, drawn: tuple[Link, np.random.Generator]
) -> list[Post]:
    """The same readings over a bad link."""
    link, rng = drawn
    moments = _moments(link, until_s, rng)
    lost = rng.random(len(moments)) < link.lost_share
    arrivals: list[tuple[float, Reading]] = []
    for reading in readings:
        at_s = _arrival_s(link, reading, rng)
        post = min(int(np.searchsorted(moments, at_s)), len(moments) - 1)
        arrivals.append((at_s + float(rng.uniform(2.0, 10.0)) if lost[post] and at_s > 0.0 else at_s, reading))
        if rng.random() < link.doubled_share:
            arrivals.append((at_s + float(rng.exponential(4.0)), reading))
    order = rng.permutation(len(arrivals))
    return _posts([arrivals[i] for i in order], head, moments)


def _moments(link: Link, until_s: float, rng: np.random.Generator) -> list[float]:
    """When posts get through: steps of 1 s, with one or two skipped now and then."""
    moments, at_s = [1.0], 1.0
    while at_s < float(int(until_s)):
        skipped = rng.random() < link.skipped_share
        at_s = min(at_s + 1.0 + (float(rng.integers(1, 3)) if skipped else 0.0), float(int(until_s)))
        moments.append(at_s)
    return moments


def _arrival_s(link: Link, reading: Reading, rng: np.random.Generator) -> float:
    """The first reading of power comes with the first post; any other may be late."""
    at_s, field, _ = reading
    if field == "power" and at_s == 0.0:
        return 0.0
    late = rng.random() < link.late_share
    return at_s + float(rng.exponential(link.late_s) if late else rng.exponential(0.1))


def _posts(arrivals: list[tuple[float, Reading]], head: Post, moments: list[float]) -> list[Post]:
    """Put each arrival into the first post at or after it; the last post takes what is left."""
    posts: list[Post] = [{"as_of": moment, "readings": {}} for moment in moments]
    places = np.minimum(np.searchsorted(moments, [at_s for at_s, _ in arrivals]), len(moments) - 1)
    for place, (_, (_, field, value)) in zip(places.tolist(), arrivals, strict=True):
        posts[place]["readings"].setdefault(field, []).append(value)
    posts[0] = {**head, **posts[0]}
    return posts
