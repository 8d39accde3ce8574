"""The rules of programmes that are led by steam alone: when food is done, when to stir it, and what was not measured.

None of them fires in a cook whose sound counts.
"""

from service.rules.said import Said
from service.rules.situation import Situation

NUDGE = "stir-or-turn"
"""The code of the one warning that is given once in a cook."""


def core_safe(now: Situation) -> Said | None:
    if now.food is not None and now.food.core_c is not None and now.is_due:
        return Said(
            says=f"By its steam the coldest part of the food has probably reached {now.food.core_c:g} degC:"
            " let it stand, and check it with a thermometer.",
            value=now.food.steaming_s,
            unit="s",
        )
    return None


def first_moisture(now: Situation) -> Said | None:
    if now.food is not None and now.food.core_c is None and now.is_due:
        return Said(says="The first moisture has come, which is as far as this programme goes.")
    return None


def not_measured_safe(now: Situation) -> Said | None:
    """Told beside a cap: that the cook ends does not mean that the food is hot."""
    if now.food is None or now.food.core_c is None or now.restarted_s is not None or now.is_due:
        return None
    if now.heating_s >= min(now.ends_unmeasured_s, now.limits.cap_s):
        return Said(
            says="Nothing measured says that the coldest part is hot enough: check it with a thermometer.",
            value=now.heating_s,
            limit=now.limits.cap_s,
            unit="s",
        )
    return None


def stir_or_turn(now: Situation) -> Said | None:
    """Once in a cook, when of the time from steam to the stop the share is over that the programme says."""
    food, ahead = now.food, now.remaining
    if (
        food is None
        or ahead is None
        or food.steaming_s is None
        or food.nudge_share == 0.0
        or now.restarted_s is not None
    ):
        return None
    if now.settled is not None and now.settled.nudge_ms is not None:
        return None
    if food.steaming_s >= food.nudge_share * (food.steaming_s + ahead.estimate_s):
        return Said(
            says="Stir the food now, or turn it, so that its cold parts come where it is hot; then go on.",
            value=ahead.estimate_s,
            unit="s",
        )
    return None


def sound_ignored(now: Situation) -> Said | None:
    if now.food is not None and now.food.sound_ignored:
        return Said(says="This programme goes by the steam alone; what the microphone hears is left out of account.")
    return None
