"""Stops explained by what a control heard no more: the densities of service.audit.listening and counting put together.

Model. One silence, or one distance of sounds that are counted, and one hearing for all cooks, summed over: the silence about
as long as the one that ends a cook by common practice (log-normal), the hearing anything. In a small share of cooks the
control is led astray (a word spoken, a spoon dropped), and the stop may be anywhere.
"""

from collections.abc import Callable, Sequence
from functools import partial
from math import exp, log

import numpy as np

from service.audit.listening import GAPS_S, HEARING
from service.audit.stop_cues import COUNTED, StopCues
from service.audit.variants import Explanation, Unexplained
from service.programs.programme import Programme
from service.units import FloatArray


def _few_sounds(sounds: int, gap_s: float) -> str:
    return f"fewer than {sounds} sounds in {sounds * gap_s:g} s"


LISTENERS: tuple[Callable[[float], str], ...] = (
    lambda gap_s: f"a silence of about {gap_s:g} s after the peak",
    lambda gap_s: f"a silence of about {gap_s:g} s after ten sounds",
    *(partial(_few_sounds, sounds) for sounds in COUNTED),
)
"""What a control may wait for, in words, in the order of `SoundCues.log_density`."""


def explain_by_listening(
    cues: Sequence[StopCues], listener: int, numbers: Programme, unexplained: Unexplained
) -> Explanation | None:
    """The explanation by LISTENERS[listener]; None where fewer than half of the cooks were heard."""
    heard = [cue for cue in cues if cue.sound is not None]
    if 2 * len(heard) < len(cues) or not heard:
        return None
    lapse = numbers.number("sound_lapse")
    # Per unit of the logarithm of the stop, as all other explanations are.
    densities = [np.exp(cue.sound.log_density[listener]) * cue.stop_s for cue in heard if cue.sound is not None]
    log_likelihood = np.sum([np.log((1.0 - lapse) * density + lapse) for density in densities], axis=0)
    log_weighted = log_likelihood + log_weight_of_gaps(numbers)[:, None] - log(len(HEARING))
    place = int(log_weighted.max(axis=1).argmax())
    top = float(log_weighted.max())
    log_evidence = top + log(float(np.exp(log_weighted - top).sum()))
    # All listeners and what else goes by the sound share the weight of their kind.
    log_evidence += log((1.0 - numbers.number("sound_other_share")) * (1.0 + 1.0 / len(LISTENERS)))
    unheard = np.log([cue.stop_s for cue in cues if cue.sound is None])
    residuals = np.array([_residual(cue, place) for cue in cues])
    known = residuals[np.isfinite(residuals)]
    return Explanation(
        kind="sound",
        says=LISTENERS[listener](GAPS_S[place]),
        log_evidence=log_evidence + (unexplained(unheard) if unheard.size else 0.0),
        error_sd=exp(0.5 * log(float(np.mean(known**2)) + 1e-12)),
        residuals=residuals,
    )


def log_weight_of_gaps(numbers: Programme) -> FloatArray:
    """(G,) logarithms of how likely a control waits for each of GAPS_S, which add up to 1."""
    deviations = np.log(np.array(GAPS_S) / numbers.number("sound_gap_s")) / numbers.number("sound_gap_log_sd")
    weight = np.exp(-0.5 * deviations**2)
    log_weight: FloatArray = np.log(weight / weight.sum())
    return log_weight


def _residual(cue: StopCues, place: int) -> float:
    return float("nan") if cue.sound is None else log(cue.stop_s / float(cue.sound.typical_s[place]))
