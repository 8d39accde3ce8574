"""What was heard, written down: as a log that can be replayed, or as a document with certainties."""

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from service.recording.hearing import Heard
from service.recording.numbers import Numbers
from service.recording.onsets import Pop
from service.recording.sound import Sound

LATEST_S = 7200


def log_lines(pops: Iterable[Pop], head: Mapping[str, Any], duration_s: float, starts_s: float) -> Iterator[str]:
    """Posts as a hub would have sent them, one for each second of the cook, which starts at `starts_s` in the recording.

    `head` is what the first of them says beside its readings. A cook has no more than LATEST_S seconds.
    """
    ends_s = min(duration_s - starts_s, float(LATEST_S))
    said: Mapping[str, Any] = head
    second = 1.0
    waiting: list[float] = []
    for pop in pops:
        t_s = round(pop.t_s - starts_s, 3)
        if not 0.0 <= t_s <= ends_s:
            continue
        while t_s > second:
            yield _post(said, min(second, ends_s), waiting)
            said, second, waiting = {}, second + 1.0, []
        waiting.append(t_s)
    while second < ends_s:
        yield _post(said, second, waiting)
        said, second, waiting = {}, second + 1.0, []
    yield _post(said, round(ends_s, 3), waiting)


def document(pops: Iterable[Pop], sound: Sound, heard: Heard, numbers: Numbers, starts_s: float) -> dict[str, Any]:
    """Everything that was heard. Times are on the cook clock (s), certainties from 0 to 1."""
    listed = [
        {
            "t": round(pop.t_s - starts_s, 3),
            "certainty": round(pop.certainty, 3),
            "above_noise_db": round(pop.above_noise_db, 1),
            "rise_db": round(pop.rise_db, 1),
        }
        for pop in pops
    ]
    return {
        "recording": {"duration_s": round(sound.duration_s, 3), "rate_hz": sound.rate_hz},
        "dead_time_s": numbers.dead_time_s,
        "mains_hz": sorted(set(heard.mains_hz)),
        "noise_db": [round(level, 1) for level in heard.noise_db],
        "pops": listed,
    }


def _post(said: Mapping[str, Any], as_of_s: float, pops: list[float]) -> str:
    return json.dumps({**said, "as_of": as_of_s, "readings": {"pops": pops}}, separators=(",", ":"))
