"""How many more cooks would settle what a control follows.

Model. If the likeliest explanation holds, each further cook adds ln(sd' / sd) on average to its logarithmic odds against
another one, with sd the scatter of the stops about the first and sd' about the other. The next bags are small, regular
and large, and so differ more in size than those so far may have; the two predictions then part in proportion, and sd' is
at least what they part by. Where the cooks so far have parted the two faster than that, that rate holds.

Range. A plan, not a promise: about half of all ovens take fewer cooks than said, half take more.
"""

from collections.abc import Sequence
from math import ceil, hypot, log

import numpy as np

from service.audit.numbers import audit_numbers
from service.audit.stop_cues import StopCues
from service.audit.variants import Explanation
from service.programs.programme import Programme

_LEAST_SPREAD = 0.03
_LEAST_GAIN = 1e-3


def more_cooks(cues: Sequence[StopCues], sizes: int, found: Sequence[Explanation], probability: float) -> int | None:
    """Cooks until the likeliest explanation, now of this probability, is almost certain; 0 if it is, None if too many."""
    numbers = audit_numbers()
    number = numbers.number
    few = max(round(number("least_cooks")) - len(cues), 0)
    alike = max(round(number("least_sizes")) - sizes, 0)
    missing = log(_odds(number("sure_at"))) - log(_odds(min(probability, 1.0 - 1e-12)))
    if missing <= 0.0:
        return max(few, alike)
    needed = max(few, alike, ceil(missing / _gain(cues, found, numbers)))
    return needed if needed <= number("most_more_cooks") else None


def _gain(cues: Sequence[StopCues], found: Sequence[Explanation], numbers: Programme) -> float:
    """What a cook adds to the logarithmic odds of the likeliest explanation against the next of another kind."""
    best = max(found, key=lambda one: one.log_evidence)
    rivals = [one for one in found if one.kind != best.kind]
    if not rivals:
        return _LEAST_GAIN
    rival = max(rivals, key=lambda one: one.log_evidence)
    stretch = max(numbers.number("next_sizes_log_sd") / _size_spread(cues), 1.0)
    apart = best.residuals - rival.residuals
    apart = apart[np.isfinite(apart)]
    parted = stretch * float(apart.std()) if apart.size else 0.0
    scatter = max(rival.error_sd, hypot(best.error_sd, parted))
    so_far = (best.log_evidence - rival.log_evidence) / len(cues)
    return max(log(scatter / best.error_sd), so_far, _LEAST_GAIN)


def _size_spread(cues: Sequence[StopCues]) -> float:
    """Standard deviation of the logarithm of the size, by mass or else by the onset of steam."""
    masses_g = [cue.load_g for cue in cues if cue.load_g is not None]
    onsets_s = [cue.onset_u_s for cue in cues if cue.onset_u_s is not None]
    known = masses_g if len(masses_g) == len(cues) else onsets_s
    return max(float(np.log(known).std()), _LEAST_SPREAD) if known else 1.0


def _odds(probability: float) -> float:
    return probability / (1.0 - probability)
