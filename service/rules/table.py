"""The rules, in the order in which they are asked. The first that fires decides; those of its verdict are told with it.

A rule is a function from the situation to a sentence with its numbers, or None. Its code is public and never changes.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import groupby

from service.rules.after_stop import stop_already_given, top_up_over, top_up_running, top_up_silent
from service.rules.decision import Reason, Verdict
from service.rules.food import (
    NUDGE,
    core_safe,
    first_moisture,
    not_measured_safe,
    sound_ignored,
    stir_or_turn,
)
from service.rules.said import Said
from service.rules.situation import Situation

__all__ = ["NUDGE", "RULES", "Rule", "Said", "judge"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A code that never changes, the verdict that it asks for, what it means, and the function that tells."""

    code: str
    verdict: Verdict
    means: str
    asks: Callable[[Situation], Said | None]


def heating_cap_reached(now: Situation) -> Said | None:
    if now.heating_s >= now.limits.cap_s:
        return Said(says="The heating has reached its cap.", value=now.heating_s, limit=now.limits.cap_s, unit="s")
    return None


def _says_nothing(now: Situation) -> bool:
    return now.remaining is None and now.restarted_s is None


def nothing_measured(now: Situation) -> Said | None:
    if _says_nothing(now) and not now.shows_life and now.heating_s >= now.limits.blind_s:
        return Said(
            says="No sensor has shown anything, so the cook ends early, unmeasured: check the food and the sensors.",
            value=now.heating_s,
            limit=now.limits.blind_s,
            unit="s",
        )
    return None


def nothing_happened(now: Situation) -> Said | None:
    if _says_nothing(now) and not now.steams and now.heating_s >= now.limits.waiting_s:
        what = "bag" if now.food is None else "food"
        return Said(
            says=f"{_neither(now)} has come in all this time: check the {what}, the power and the sensors.",
            value=now.heating_s,
            limit=now.limits.waiting_s,
            unit="s",
        )
    return None


def forecast_reached(now: Situation) -> Said | None:
    if not now.is_due or _popped_too_little(now) or _pops_on_shut(now) or now.led_by not in ("sound", "both"):
        return None
    if now.acoustic.status == "suspect":
        return Said(
            says="By what the microphone heard before it failed, the silence which ends a cook would typically be heard by now."
        )
    return Said(
        says="The pops have thinned so far that the silence which ends a cook is typically heard by now.",
        value=now.acoustic.rate_per_s,
        unit="1/s",
    )


def silence_heard(now: Situation) -> Said | None:
    sound, ahead = now.acoustic, now.remaining
    if (
        ahead is None
        or now.restarted_s is not None
        or sound.status != "usable"
        or now.heating_s < now.limits.hold_off_s
    ):
        return None
    # What a microphone that hears few pops takes for a silence need be none.
    hears = 1.0 if now.heard_share is None else min(now.heard_share / now.limits.silence_share, 1.0)
    if sound.silence_s * hears >= now.limits.gap_s and ahead.low_s <= 0.0 and not _popped_too_little(now):
        return Said(
            says="A silence as long as the one that ends a cook was heard where the forecast allows it.",
            value=sound.silence_s,
            limit=now.limits.gap_s,
            unit="s",
        )
    return None


def steam_clock_reached(now: Situation) -> Said | None:
    if now.food is None and now.is_due and now.led_by == "steam" and now.moisture.steam is not None:
        return Said(
            says="The time that a bag needs from the onset of steam is over.",
            value=now.moisture.steam.onset_s,
            unit="s",
        )
    return None


def _popped_too_little(now: Situation) -> bool:
    """Few pops, no steam and no long silence: a lull among the first pops looks like the end and is none."""
    few = now.acoustic.pops < now.limits.stop_least_pops and now.acoustic.silence_s < now.limits.stop_lull_s
    return now.led_by == "sound" and few


def _pops_on_shut(now: Situation) -> bool:
    """Pops still come fast, and a humidity sensor that works has seen no steam: a weak oven pops slowly, and long."""
    sound, steam = now.acoustic, now.moisture.steam
    if sound.status != "usable" or now.moisture.status != "usable" or steam is None or steam.onset_s is not None:
        return False
    share = 1.0 if now.heard_share is None else now.heard_share
    return sound.rate_per_s * now.limits.gap_s > now.limits.pops_on_count * share


def end_near(now: Situation) -> Said | None:
    if now.remaining is None or now.restarted_s is not None:
        return None
    left_s = min(now.remaining.estimate_s, now.cap_in_s)
    if left_s > now.limits.warn_lead_s:
        return None
    if left_s < now.remaining.estimate_s:
        says = "The most heating that is allowed is nearly used up, before the end has come: stand by."
    else:
        says = (
            f"The end is near: stand by{' to stop it a little sooner or later to taste' if now.food is None else ''}."
        )
    return Said(says=says, value=left_s, limit=now.limits.warn_lead_s, unit="s")


def sensors_disagree(now: Situation) -> Said | None:
    if now.disagree:
        return Said(says=f"Sound and steam contradict each other; the {now.led_by} is followed.")
    return None


def microphone_suspect(now: Situation) -> Said | None:
    if now.acoustic.status != "suspect":
        return None
    if now.acoustic.likelihood is None:
        says = "Steam has come, but the microphone has heard no popping: it is deaf, and the steam alone is followed."
    elif now.remaining is None:
        says = "A few sounds were heard, and nothing since: they were no pops, or the microphone has gone deaf."
    else:
        says = "The microphone has gone deaf: what it heard before still counts, nothing since."
    return Said(says=says, value=now.acoustic.silence_s, unit="s")


def humidity_suspect(now: Situation) -> Said | None:
    if now.moisture.status == "suspect" and now.acoustic.status != "usable":
        return Said(says="The humidity sensor is stuck, silent or saturated, and there is no sound to go by.")
    return None


def blind_end_near(now: Situation) -> Said | None:
    if not _says_nothing(now) or now.heating_s < now.ends_unmeasured_s - now.limits.warn_lead_s:
        return None
    if not now.shows_life:
        seen = "No sensor has shown anything yet"
    elif now.steams:
        seen = "Nothing tells when this food is done"
    else:
        seen = f"{_neither(now)} has come yet"
    return Said(
        says=f"{seen}: the cook will soon end unmeasured.",
        value=now.heating_s,
        limit=now.ends_unmeasured_s,
        unit="s",
    )


def heating_off(now: Situation) -> Said | None:
    if not now.is_on:
        return Said(
            says=f"The heating is off: {'silence does not count' if now.food is None else 'nothing gets hotter'} now."
        )
    return None


def popping(now: Situation) -> Said | None:
    if now.acoustic.status != "usable":
        return None
    if not now.is_on:
        says = "The bag was popping until the heating went off."
    elif now.acoustic.rate_per_s > 0.0:
        says = "The bag is popping."
    else:
        says = "The bag has popped, but not in the last seconds."
    return Said(says=says, value=now.acoustic.rate_per_s, unit="1/s")


def steaming(now: Situation) -> Said | None:
    steam = now.moisture.steam
    if steam is not None and steam.onset_s is not None:
        return Said(says="Steam has come; the cook needs a while longer.", value=steam.onset_s, unit="s")
    return None


def too_early_to_say(now: Situation) -> Said | None:
    if now.acoustic.status != "usable" and (now.moisture.steam is None or now.moisture.steam.onset_s is None):
        return Said(says=f"{_neither(now)} yet.", value=now.heating_s, unit="s")
    return None


def _neither(now: Situation) -> str:
    return "Neither popping nor steam" if now.food is None else "No steam"


RULES: tuple[Rule, ...] = (
    Rule(code="stop-already-given", verdict="stop", means="A stop holds until a restart.", asks=stop_already_given),
    Rule(
        code="heating-cap-reached", verdict="stop", means="The most heating that is allowed.", asks=heating_cap_reached
    ),
    Rule(code="top-up-over", verdict="stop", means="The most heating after a restart.", asks=top_up_over),
    Rule(code="top-up-silent", verdict="stop", means="No pops after a restart.", asks=top_up_silent),
    Rule(code="nothing-measured", verdict="stop", means="No sensor works: end early.", asks=nothing_measured),
    Rule(code="nothing-happened", verdict="stop", means="A sensor works, nothing came.", asks=nothing_happened),
    Rule(code="forecast-reached", verdict="stop", means="By the sound the end has come.", asks=forecast_reached),
    Rule(code="silence-heard", verdict="stop", means="The silence itself was heard.", asks=silence_heard),
    Rule(code="steam-clock-reached", verdict="stop", means="By the steam the end has come.", asks=steam_clock_reached),
    Rule(code="core-safe", verdict="stop", means="By the steam the food is hot to its core.", asks=core_safe),
    Rule(code="first-moisture", verdict="stop", means="The first moisture ends the cook.", asks=first_moisture),
    Rule(
        code="not-measured-safe", verdict="stop", means="It ends without the core known safe.", asks=not_measured_safe
    ),
    Rule(code="top-up-running", verdict="warn", means="Heating again after a stop.", asks=top_up_running),
    Rule(code=NUDGE, verdict="warn", means="Half of the rest is over: stir or turn.", asks=stir_or_turn),
    Rule(code="end-near", verdict="warn", means="The stop is seconds away.", asks=end_near),
    Rule(code="blind-end-near", verdict="warn", means="An unmeasured end is near.", asks=blind_end_near),
    Rule(code="sensors-disagree", verdict="warn", means="Sound against steam.", asks=sensors_disagree),
    Rule(code="microphone-suspect", verdict="warn", means="The microphone failed.", asks=microphone_suspect),
    Rule(code="humidity-suspect", verdict="warn", means="The humidity sensor failed.", asks=humidity_suspect),
    Rule(code="heating-off", verdict="continue", means="Paused, open, or between two pulses.", asks=heating_off),
    Rule(code="popping", verdict="continue", means="The bag pops.", asks=popping),
    Rule(code="steaming", verdict="continue", means="The bag has opened.", asks=steaming),
    Rule(code="sound-ignored", verdict="continue", means="This programme has no use for sound.", asks=sound_ignored),
    Rule(code="too-early-to-say", verdict="continue", means="No evidence yet.", asks=too_early_to_say),
)


# They stand in the order of their verdicts, the gravest first.
_OF_VERDICT = tuple((verdict, tuple(rules)) for verdict, rules in groupby(RULES, lambda rule: rule.verdict))


def judge(now: Situation) -> tuple[Verdict, tuple[Reason, ...]]:
    """The verdict and the reasons at its level, the deciding one first.

    One always fires: the bag pops, or it steams, or it does neither yet, or the microphone is suspect. A stop that holds is
    told alone: what is read after it is of a cook that is over.
    """
    told = ((verdict, _reasons(rules, now)) for verdict, rules in _OF_VERDICT)
    verdict, reasons = next((verdict, reasons) for verdict, reasons in told if reasons)
    return verdict, reasons[:1] if now.stopped else reasons


def _reasons(rules: tuple[Rule, ...], now: Situation) -> tuple[Reason, ...]:
    return tuple([Reason(rule.code, *said) for rule in rules if (said := rule.asks(now)) is not None])
