"""The ways in which an oven's own control may come to its stops: a timer, the steam, the sound, something else.

* timer: one time, on the cook clock or of heating.
* steam: a ratio of the onset on the heating clock, or on the cook clock; the former, noticed or waited for some seconds later; a
  constant alone.
* sound: a silence of unknown length, heard from the peak on or after ten sounds; a few sounds in a longer while; or the typical
  silence, as for any other rule on the rate of pops.
* something else: one time for each size of bag; the mass of the bag; no rule at all, only a usual time. Where nobody said the
  masses: a few fixed times, set for sizes or not; or the size, which the steam follows too (service.audit.unsaid_sizes).

Range. Cooks of one oven with one setting of its control.
"""

from collections.abc import Sequence
from functools import partial
from math import exp, log

import numpy as np

from service.audit.evidence_of_fit import ErrorPrior, explained
from service.audit.explained_by_listening import LISTENERS, explain_by_listening, log_weight_of_gaps
from service.audit.listening import GAPS_S
from service.audit.sizes import size_classes
from service.audit.stop_cues import StopCues
from service.audit.tails import normal_quantile
from service.audit.unsaid_sizes import by_fixed_times, by_size_like_steam
from service.audit.variants import Explanation, Variant, weigh
from service.programs.programme import Programme
from service.units import FloatArray, IntArray

_ADDED = 21


def explanations(cues: Sequence[StopCues], numbers: Programme) -> tuple[Explanation, ...]:
    """What every variant makes of the same stops; those of which too few cooks have the cue are left out."""
    log_s = _logs([cue.stop_s for cue in cues])
    variants = [
        *_timers(cues, log_s, numbers),
        *_by_steam(cues, numbers),
        _by_rate_of_sound(cues, log_s, numbers),
        *_others(cues, log_s, numbers),
    ]

    def unexplained(values: FloatArray) -> float:
        usual = _usual(values, numbers)
        return explained(values, usual.design, usual.prior_mean, usual.prior_sd, usual.errors).log_evidence

    found = [weigh(variant, unexplained) for variant in variants]
    found += [explain_by_listening(cues, listener, numbers, unexplained) for listener in range(len(LISTENERS))]
    return tuple(one for one in found if one is not None)


def _timers(cues: Sequence[StopCues], log_s: FloatArray, numbers: Programme) -> list[Variant]:
    errors = _errors(numbers, "timer_error", "timer_error_log_sd", log_s)
    clocks = {"on the clock": log_s, "of heating": _logs([cue.heating_s for cue in cues])}
    return [
        Variant(
            kind="timer",
            values=values,
            offsets=np.zeros((1, values.size)),
            design=np.ones((values.size, 1)),
            prior_mean=np.array([log(numbers.number("timer_typical_s"))]),
            prior_sd=np.array([numbers.number("timer_log_sd")]),
            errors=errors,
            says=partial(_timer_says, clock),
        )
        for clock, values in clocks.items()
    ]


def _timer_says(clock: str, _: int, level: FloatArray) -> str:
    return f"always after {exp(level[0]):.0f} s {clock}"


def _by_steam(cues: Sequence[StopCues], numbers: Programme) -> list[Variant]:
    number = numbers.number
    stop_u = _logs([cue.stop_u_s for cue in cues])
    onset_u_s = _known([cue.onset_u_s for cue in cues])
    errors = _errors(numbers, "steam_error", "steam_error_log_sd", stop_u)
    late_by = np.where(np.isnan(onset_u_s), 0.0, 1.0 / onset_u_s)
    added_s = number("steam_added_s") + number("steam_added_sd_s") * _normal_scores(_ADDED)
    ratio, ratio_sd = log(number("steam_ratio")), number("steam_ratio_log_sd")
    return [
        Variant(
            kind="steam",
            values=stop_u,
            offsets=np.log(onset_u_s)[None],
            design=np.ones((stop_u.size, 1)),
            prior_mean=np.array([ratio]),
            prior_sd=np.array([ratio_sd]),
            errors=errors,
            says=lambda _, level: f"{exp(level[0]):.2f} times the heating until steam",
        ),
        Variant(
            kind="steam",
            values=_logs([cue.stop_s for cue in cues]),
            offsets=np.log(_known([cue.onset_s for cue in cues]))[None],
            design=np.ones((stop_u.size, 1)),
            prior_mean=np.array([ratio]),
            prior_sd=np.array([ratio_sd]),
            errors=errors,
            says=lambda _, level: f"{exp(level[0]):.2f} times the time until steam",
        ),
        Variant(
            kind="steam",
            values=stop_u,
            offsets=np.log(onset_u_s)[None],
            design=np.column_stack((np.ones(stop_u.size), late_by)),
            prior_mean=np.array([ratio, 0.0]),
            prior_sd=np.array([ratio_sd, number("steam_late_sd_s")]),
            errors=errors,
            says=lambda _, level: (
                f"{exp(level[0]):.2f} times the heating until {abs(level[1]):.0f} s"
                f" {'before' if level[1] < 0.0 else 'after'} steam"
            ),
        ),
        Variant(
            kind="steam",
            values=stop_u,
            offsets=np.log(onset_u_s + added_s[:, None]),
            design=np.zeros((stop_u.size, 1)),
            prior_mean=np.zeros(1),
            prior_sd=np.ones(1),
            errors=errors,
            says=lambda place, _: f"{added_s[place]:.0f} s of heating after steam",
        ),
    ]


def _normal_scores(number: int) -> FloatArray:
    """(number,) values of a standard normal that are equally likely, in ascending order."""
    return np.array([normal_quantile((place + 0.5) / number) for place in range(number)])


def _by_rate_of_sound(cues: Sequence[StopCues], log_s: FloatArray, numbers: Programme) -> Variant:
    unheard = np.full(len(GAPS_S), np.nan)
    typical_s = np.array([unheard if cue.sound is None else cue.sound.typical_s for cue in cues])
    return Variant(
        kind="sound",
        values=log_s,
        offsets=np.log(typical_s.T),
        design=np.zeros((log_s.size, 1)),
        prior_mean=np.zeros(1),
        prior_sd=np.ones(1),
        errors=_errors(numbers, "sound_error", "sound_error_log_sd", log_s),
        log_prior=log(numbers.number("sound_other_share") * (len(LISTENERS) + 1)),
        log_weights=log_weight_of_gaps(numbers),
        says=lambda place, _: f"pops as rare as one in about {GAPS_S[place]:g} s",
    )


def _others(cues: Sequence[StopCues], log_s: FloatArray, numbers: Programme) -> list[Variant]:
    usual = _usual(log_s, numbers)
    masses_g = np.array([np.nan if cue.load_g is None else cue.load_g for cue in cues])
    if np.isnan(masses_g).any():
        stop_u, log_onset = _logs([cue.stop_u_s for cue in cues]), np.log(_known([cue.onset_u_s for cue in cues]))
        fixed = by_fixed_times(log_s, log_onset, _errors(numbers, "timer_error", "timer_error_log_sd", log_s), numbers)
        smooth = _errors(numbers, "unsaid_size_error", "unsaid_size_error_log_sd", stop_u)
        return [usual, *fixed, by_size_like_steam(stop_u, log_onset, smooth, numbers)]
    classes = size_classes(masses_g, numbers.number("size_step"))
    log_mass = np.log(masses_g / np.median(masses_g))
    return [usual, _by_mass(log_s, log_mass, numbers), _by_class(log_s, log_mass, classes, numbers)]


def _usual(log_s: FloatArray, numbers: Programme) -> Variant:
    return Variant(
        kind="something-else",
        values=log_s,
        offsets=np.zeros((1, log_s.size)),
        design=np.ones((log_s.size, 1)),
        prior_mean=np.array([log(numbers.number("timer_typical_s"))]),
        prior_sd=np.array([numbers.number("timer_log_sd")]),
        errors=_errors(numbers, "other_error", "other_error_log_sd", log_s),
        says=lambda _, __: "no rule that is known here",
    )


def _by_class(log_s: FloatArray, log_mass: FloatArray, classes: IntArray, numbers: Programme) -> Variant:
    number = numbers.number
    each = np.eye(int(classes.max()) + 1)[classes]
    return Variant(
        kind="something-else",
        values=log_s,
        offsets=(number("size_exponent") * log_mass)[None],
        design=np.column_stack((np.ones(log_s.size), each)),
        prior_mean=np.concatenate(((log(number("timer_typical_s")),), np.zeros(each.shape[1]))),
        prior_sd=np.concatenate(((number("timer_log_sd"),), np.full(each.shape[1], number("class_sd")))),
        errors=_errors(numbers, "timer_error", "timer_error_log_sd", log_s),
        says=lambda _, __: "one time for each size of bag",
    )


def _by_mass(log_s: FloatArray, log_mass: FloatArray, numbers: Programme) -> Variant:
    number = numbers.number
    return Variant(
        kind="something-else",
        values=log_s,
        offsets=np.zeros((1, log_s.size)),
        design=np.column_stack((np.ones(log_s.size), log_mass)),
        prior_mean=np.array([log(number("timer_typical_s")), number("size_exponent")]),
        prior_sd=np.array([number("timer_log_sd"), number("size_exponent_sd")]),
        errors=_errors(numbers, "size_error", "other_error_log_sd", log_s),
        says=lambda _, level: f"the mass of the bag to the power of {level[1]:.1f}",
    )


def _errors(numbers: Programme, median: str, log_sd: str, log_s: FloatArray) -> ErrorPrior:
    least = numbers.number("stop_resolution_s") / exp(float(log_s.mean()))
    return ErrorPrior(median=numbers.number(median), log_sd=numbers.number(log_sd), least=least)


def _known(values: Sequence[float | None]) -> FloatArray:
    """The values, NaN for what is not known."""
    return np.array([np.nan if value is None else value for value in values])


def _logs(values: Sequence[float]) -> FloatArray:
    logs: FloatArray = np.log(np.maximum(np.array(values, dtype=np.float64), 1.0))
    return logs
