"""Invented cooks as logs: the posts of a hub, and the line of what was found, which says that nothing of it was recorded."""

import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from service.invented.bag import Bag, cooked
from service.invented.controls import ENDS, Control
from service.invented.kinds import KINDS, SIZES, Drawn, drawn_oven, with_another_bag
from service.invented.sensors import heard_s, humidity

_LATE_S, _TWICE_LATER_S = 3.0, 4.0
_CM3_PER_G, _SCORCHED_PER_S = 36.0, 0.8

Line = dict[str, Any]
_Reading = tuple[float, str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is to be invented: the kind, the seed, how many cooks, and who ends them."""

    kind: str
    seed: int
    cooks: int
    control: Control


def invented_cooks(asked: Asked) -> Iterator[list[Line]]:
    """The lines of each cook, all in one oven; the same for the same question."""
    chance = [zlib.crc32(asked.kind.encode()), asked.seed]
    oven = drawn_oven(KINDS[asked.kind], np.random.default_rng(chance))
    for trial in range(1, asked.cooks + 1):
        yield _cook(asked, oven, trial, chance)


def _cook(asked: Asked, oven: Drawn, trial: int, chance: list[int]) -> list[Line]:
    kind, rng = KINDS[asked.kind], np.random.default_rng([*chance, trial])
    size = kind.sizes[(trial - 1) % len(kind.sizes)]
    drawn = with_another_bag(oven, kind, rng)
    bag = cooked(drawn, SIZES[size], rng)
    # What is the oven's own is drawn the same in each of its cooks.
    stop_s = round(ENDS[asked.control](bag, np.random.default_rng(chance), rng), 1)
    head = {"program": "popcorn", "setup": {"rated_w": round(oven.rated_w), "load_g": SIZES[size]}}
    posts = _posts(_readings(drawn, bag, stop_s, rng), stop_s, drawn, rng)
    posts[0] = {**head, **posts[0]}
    return [*posts, {"outcome": _found(bag, stop_s, rng) | _labels(asked, size, trial)}]


def _readings(drawn: Drawn, bag: Bag, stop_s: float, rng: np.random.Generator) -> list[_Reading]:
    readings: list[_Reading] = [(t, "pops", t) for t in heard_s(drawn, bag, stop_s, rng)]
    rows = humidity(drawn, bag, stop_s, rng)
    readings += [(t, "humidity", {"t": t, "rh_pct": rh_pct, "air_c": air_c}) for t, rh_pct, air_c in rows]
    readings += [(t, "power", {"t": t, "level": level}) for t, level in bag.power if t < stop_s]
    return [*readings, (stop_s, "power", {"t": stop_s, "level": 0.0})]


def _posts(readings: list[_Reading], stop_s: float, drawn: Drawn, rng: np.random.Generator) -> list[Line]:
    """A post a second with what has come since; over a bad link some readings come late, and some twice."""
    come = []
    for t, name, value in sorted(readings, key=lambda one: one[0]):
        late_s = rng.exponential(_LATE_S) if rng.random() < drawn.late_share else 0.0
        come.append((t + late_s, name, value))
        if rng.random() < drawn.twice_share:
            come.append((t + late_s + rng.uniform(0.0, _TWICE_LATER_S), name, value))
    ends_s = [*range(1, int(stop_s) + 1), max(stop_s, max(at for at, _, _ in come))]
    posts: list[Line] = [{"as_of": round(float(min(end, stop_s)), 3), "readings": {}} for end in ends_s]
    for at, name, value in sorted(come, key=lambda one: one[0]):
        posts[int(np.searchsorted(ends_s, at))]["readings"].setdefault(name, []).append(value)
    return posts


def _found(bag: Bag, stop_s: float, rng: np.random.Generator) -> Line:
    left = bag.kernels - int(np.count_nonzero(bag.popped_s < stop_s))
    before_g = round(bag.kernels * 0.1465 / 0.74, 1)
    popped = 1.0 - left / bag.kernels
    scorched = rng.poisson(_SCORCHED_PER_S * max(stop_s - bag.good_stop_s, 0.0))
    return {
        "stopped_s": stop_s,
        "good_stop_s": round(bag.good_stop_s, 1),
        "kernels_left": left,
        "kernels_total": bag.kernels,
        "scorched_pieces": int(min(scorched, bag.kernels - left)),
        "grams_before": before_g,
        "grams_after": round(before_g * (1.0 - 0.08 * popped), 1),
        "volume_cm3": round(before_g * _CM3_PER_G * popped * float(np.exp(rng.normal(0.0, 0.05)))),
    }


def _labels(asked: Asked, size: str, trial: int) -> Line:
    return {
        "stopped_by": "person" if asked.control == "person" else "oven",
        "oven": f"invented {asked.kind} {asked.seed}",
        "bag": size,
        "policy": asked.control,
        "trial": trial,
        "note": f"Invented, nothing of it was recorded: {KINDS[asked.kind].says}; ended by {asked.control}; seed {asked.seed}.",
    }
