"""Whether the numbers of a programme work together: tried out on invented readings before any cook relies on them."""

import numpy as np

from service.programs.programme import Programme, ProgrammeError
from service.readings.cook import Cook
from service.readings.setup import Fitted, OvenProfile, Setup
from service.rules.decide import decide

_UNTIL_S = 160
_OVENS = tuple(
    OvenProfile(
        steam_ratio=Fitted(value=ratio),
        steam_ratio_spread=Fitted(value=spread),
        clutter_per_s=Fitted(value=clutter_per_s),
        power_share=Fitted(value=share),
    )
    for ratio, spread, clutter_per_s, share in ((1.0, 0.001, 0.0, 0.05), (10.0, 2.0, 10.0, 3.0))
)
_SETUPS = (Setup(), *(Setup(rated_w=1000.0, load_g=100.0, oven=oven) for oven in (None, *_OVENS)))


def tried(programme: Programme) -> Programme:
    """The same programme. Raises ProgrammeError when its numbers contradict each other."""
    cook = _invented()
    try:
        with np.errstate(over="raise", invalid="raise"):
            for setup in _SETUPS:
                for as_of_s in (0, 60, 120, _UNTIL_S):
                    decide(programme=programme, setup=setup, cook=cook, as_of_ms=1000 * as_of_s)
    except (ArithmeticError, ValueError, LookupError) as error:
        raise ProgrammeError(f"its numbers do not work together: {error}", ("values",)) from error
    return programme


def _invented() -> Cook:
    """Pops that come and go, and steam that comes and stays."""
    t_s = np.arange(float(_UNTIL_S))
    rh_pct = 40.0 + 30.0 * np.clip((t_s - 80.0) / 30.0, 0.0, 1.0) + 0.1 * (t_s % 3.0)
    pops_s = np.concatenate([middle_s + np.arange(-30.0, 30.0) ** 3 / 900.0 for middle_s in (95.0, 95.37, 95.71)])
    return Cook.of(pops_s=pops_s, humidity=[(t, rh, 30.0) for t, rh in zip(t_s, rh_pct, strict=True)])
