"""What each kind of control would have gone by in one cook: the clock, the steam, the sound, the size of the bag.

Model. A control by steam multiplies the onset of steam, on the heating clock or on that of the cook. A control by sound waits
for a silence, from the peak or from the tenth sound on, or until it counts but a few sounds in a longer while: how probable
the stop is under each (service.audit.listening, counting). The typical silence, by the posterior of the pops until the stop
(service.forecast.first_silence), is what any other rule on the rate of pops comes near to.

Range. Cooks of which the stop is known. A cue is None where its sensor showed nothing.
"""

from dataclasses import dataclass, replace

import numpy as np

from service.audit import counting, listening
from service.audit.listening import GAPS_S, ListeningNumbers
from service.audit.numbers import audit_numbers
from service.forecast.popcorn import popcorn_outlook
from service.forecast.stop_time import StopTime
from service.outcomes.finished import FinishedCook
from service.programs.heating import heating_clock
from service.programs.programme import Programme
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from service.units import FloatArray

COUNTED = (3, 5)
"""Of how many sounds a control may find that they have become rare."""
_TENTH = 9
_PEAK_WINDOW_S = 5.0
_TYPICAL_GAPS_S = (1.0, 2.0, 3.5, 5.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SoundCues:
    """What the sound makes of a stop, for each of GAPS_S.

    Attributes:
        log_density: (2 + COUNTED, G, Q) logarithm of the density (1/s) of the stop for each silence and hearing, of a control
            that waits for it from the peak on, and from the tenth sound on; and of one that counts so many sounds and finds
            them as far apart as that.
        typical_s: (G,) when half of all listeners would have heard such a silence (s, cook clock).
    """

    log_density: FloatArray
    typical_s: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StopCues:
    """One stop and what may explain it.

    Attributes:
        stop_s: on the cook clock.
        heating_s: time with power on until then.
        stop_u_s: on the heating clock.
        onset_s, onset_u_s: onset of steam on the cook clock and on the heating clock; None where none was seen.
        sound: None where nothing was heard.
        load_g: size of the bag; None where it is not known.
    """

    stop_s: float
    heating_s: float
    stop_u_s: float
    onset_s: float | None
    onset_u_s: float | None
    sound: SoundCues | None
    load_g: float | None


def stop_cues(finished: FinishedCook, programme: Programme) -> StopCues | None:
    """The cues of a finished popcorn cook; None where nobody knows when it was stopped, or it was at once."""
    if not finished.outcome.stopped_s:
        return None
    end_ms = finished.end_ms()
    cook = finished.cook.until(end_ms)
    clock = heating_clock(programme, cook, end_ms)
    outlooks = [
        popcorn_outlook(programme, replace(finished.setup, gap_s=gap_s), cook, clock, 1.0) for gap_s in _TYPICAL_GAPS_S
    ]
    steam = outlooks[0].moisture.steam
    onset_s = None if steam is None else steam.onset_s
    by_sound = [one.by_sound for one in outlooks if one.by_sound is not None and one.acoustic.status == "usable"]
    return StopCues(
        stop_s=clock.as_of_s,
        heating_s=clock.heating_s(clock.as_of_s),
        stop_u_s=clock.now_u_s,
        onset_s=None if onset_s is None else max(onset_s, 1.0),
        onset_u_s=None if onset_s is None else max(float(clock.full_power_s(onset_s)), 1.0),
        sound=_sound_cues(cook, clock, by_sound) if by_sound else None,
        load_g=finished.load_g(),
    )


def cook_s_of(clock: HeatingClock, u_s: float) -> float:
    """When the heating clock shows `u_s` (cook clock), looked back or forward from the clock's own moment."""
    if u_s > clock.now_u_s:
        return clock.as_of_s + clock.cook_s_after(u_s - clock.now_u_s)
    knots_s = np.append(clock.knots_s[:-1], clock.as_of_s)
    # Where cooling takes the clock back, the first moment counts.
    readings_u_s = np.maximum.accumulate(clock.full_power_s(knots_s))
    return float(np.interp(u_s, readings_u_s, knots_s))


def _sound_cues(cook: Cook, clock: HeatingClock, by_sound: list[StopTime]) -> SoundCues:
    pops_s = clock.heating_s(cook.pops_ms / 1000.0)
    stop_s = clock.heating_s(clock.as_of_s)
    numbers = audit_numbers().numbers(ListeningNumbers)
    begins = (peak_of(pops_s), min(_TENTH, pops_s.size - 1))
    typical_s = np.array([cook_s_of(clock, one.at_sd(0.0)) for one in by_sound])
    return SoundCues(
        log_density=np.stack(
            [listening.log_density_of_stop(pops_s, stop_s, begin, numbers) for begin in begins]
            + [counting.log_density_of_stop(pops_s, stop_s, begins[0], sounds, numbers) for sounds in COUNTED]
        ),
        typical_s=np.interp(np.log(GAPS_S), np.log(_TYPICAL_GAPS_S), typical_s),
    )


def peak_of(heated_s: FloatArray) -> int:
    """Index of the pop at the end of the window that holds most pops, of ascending times of heating (s)."""
    held = np.arange(heated_s.size) - heated_s.searchsorted(heated_s - _PEAK_WINDOW_S)
    return int(held.argmax())
