"""What an oven's own control follows: a timer, the steam, the sound, or something else; how sure that is; what would settle it.

Model. The four kinds are equally likely beforehand, and the variants of a kind share its weight. Their marginal
likelihoods over the stops that the oven made by itself give the posterior probabilities. A kind is named when its
probability reaches `say_at`, there are enough cooks, and their bags are of enough sizes: bags that are all alike end at
nearly the same time whatever the control follows.

Range. Cooks of one oven with one setting of its control, stopped by the oven.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log

import numpy as np

from service.audit.explanations import explanations
from service.audit.more_cooks import more_cooks
from service.audit.numbers import audit_numbers
from service.audit.sizes import sizes_among
from service.audit.stop_cues import StopCues
from service.audit.variants import KINDS, Explanation, Kind
from service.programs.programme import Programme


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One kind of control.

    Attributes:
        kind: which.
        probability: that it is this one, out of the four.
        says: its best variant, in words.
        within_s: how closely that explains the stops (root mean square of what it misses them by, s).
    """

    kind: Kind
    probability: float
    says: str
    within_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """The answer.

    Attributes:
        follows: the kind, or None when it cannot be said.
        confidence: in words.
        says: one or two sentences for a person.
        candidates: all kinds that could be looked at, the likeliest first.
        cooks, sizes: how many stops of the oven there were, with bags of how many sizes.
        more_cooks: how many more, of small, regular and large bags, would probably make it almost certain; 0 when it
            is, None when no number of cooks like these would.
    """

    follows: Kind | None
    confidence: str
    says: str
    candidates: tuple[Candidate, ...]
    cooks: int
    sizes: int
    more_cooks: int | None


def what_it_follows(cues: Sequence[StopCues]) -> Control:
    """Judge the control by the cues of the cooks that the oven ended by itself."""
    numbers = audit_numbers()
    if len(cues) < 2:
        return _too_few(len(cues), numbers)
    sizes = sizes_among(cues, numbers)
    found = explanations(cues, numbers)
    candidates = _candidates(cues, found)
    missing = _missing(len(cues), sizes, candidates[0], numbers)
    return Control(
        follows=None if missing else candidates[0].kind,
        confidence="cannot say" if missing else _in_words(candidates[0].probability, numbers),
        says=_says(candidates[0], missing),
        candidates=candidates,
        cooks=len(cues),
        sizes=sizes,
        more_cooks=more_cooks(cues, sizes, found, candidates[0].probability),
    )


def _candidates(cues: Sequence[StopCues], found: Sequence[Explanation]) -> tuple[Candidate, ...]:
    typical_s = exp(float(np.mean(np.log([cue.stop_s for cue in cues]))))
    best, log_weights = {}, {}
    for kind in KINDS:
        variants = [one for one in found if one.kind == kind]
        if variants:
            best[kind] = max(variants, key=lambda one: one.log_evidence)
            top = best[kind].log_evidence
            log_weights[kind] = top + log(sum(exp(one.log_evidence - top) for one in variants) / len(variants))
    highest = max(log_weights.values())
    weights = {kind: exp(log_weight - highest) for kind, log_weight in log_weights.items()}
    total = sum(weights.values())
    candidates = [
        Candidate(
            kind=kind,
            probability=weight / total,
            says=best[kind].says,
            within_s=_missed_by(best[kind]) * typical_s,
        )
        for kind, weight in weights.items()
    ]
    return tuple(sorted(candidates, key=lambda one: -one.probability))


def _missed_by(explanation: Explanation) -> float:
    """As a share of the stop, over the cooks that have the cue."""
    known = explanation.residuals[np.isfinite(explanation.residuals)]
    return float(np.sqrt(np.mean(known**2)))


def _missing(cooks: int, sizes: int, likeliest: Candidate, numbers: Programme) -> str:
    """Why nothing can be said; empty when something can."""
    if cooks < numbers.number("least_cooks"):
        return _few(cooks, round(numbers.number("least_cooks")))
    if sizes < numbers.number("least_sizes"):
        return "all bags are of one size, so that they would end alike whatever the control follows"
    if likeliest.probability < numbers.number("say_at"):
        return "no explanation stands out"
    return ""


def _in_words(probability: float, numbers: Programme) -> str:
    if probability >= numbers.number("sure_at"):
        return "almost certain"
    return "very likely" if probability >= numbers.number("likely_at") else "likely"


def _says(likeliest: Candidate, missing: str) -> str:
    fits = f"{likeliest.says} (probability {likeliest.probability:.2f}, within {likeliest.within_s:.1f} s)"
    if missing:
        return f"What the control follows cannot be said: {missing}. The closest is {fits}."
    named = {
        "timer": "a timer",
        "steam": "the steam",
        "sound": "the sound",
        "something-else": "neither a timer nor the steam nor the sound",
    }[likeliest.kind]
    return f"The control follows {named}: {fits}."


def _too_few(cooks: int, numbers: Programme) -> Control:
    least = round(numbers.number("least_cooks"))
    return Control(
        follows=None,
        confidence="cannot say",
        says=f"What the control follows cannot be said: {_few(cooks, least)}.",
        candidates=(),
        cooks=cooks,
        sizes=cooks,
        more_cooks=least - cooks,
    )


def _few(cooks: int, least: int) -> str:
    return f"it takes {least} cooks that the oven ended by itself, and there are {cooks}"
