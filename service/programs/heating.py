"""The heating clock of a cook under a programme, whose numbers say what a pause costs."""

from collections.abc import Mapping
from functools import lru_cache

from service.programs.programme import Programme
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from service.readings.periods import Cooling


def heating_clock(programme: Programme, cook: Cook, as_of_ms: int) -> HeatingClock:
    """The clock of `cook` as known at `as_of_ms`. Raises KeyError for a programme that lacks a number."""
    return HeatingClock.of(cook, as_of_ms, **_cooling_and_idling(programme))


@lru_cache(maxsize=64)
def cooling(programme: Programme) -> Cooling:
    """What a pause costs. Raises KeyError for a programme that lacks a number."""
    number = programme.number
    return Cooling(share=number("cooling_share"), most_s=number("cooling_most_s"), after_s=number("cooling_after_s"))


@lru_cache(maxsize=64)
def _cooling_and_idling(programme: Programme) -> Mapping[str, float]:
    lost = cooling(programme)
    return {
        "cooling_share": lost.share,
        "cooling_max_s": lost.most_s,
        "cooling_after_s": lost.after_s,
        "idle_level": programme.number("idle_level"),
    }
