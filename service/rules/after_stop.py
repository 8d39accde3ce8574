"""The rules of a cook that was stopped: the stop holds, and a restart is given a little more heating."""

from service.rules.said import Said
from service.rules.situation import Situation


def stop_already_given(now: Situation) -> Said | None:
    if now.stopped and now.settled is not None and now.settled.stop_ms is not None:
        return Said(
            says=f"The cook was stopped by the rule {now.settled.stop_rule}, and nobody has restarted it.",
            value=now.settled.stop_ms / 1000.0,
            unit="s",
        )
    return None


def top_up_over(now: Situation) -> Said | None:
    if now.restarted_s is not None and now.restarted_s >= now.limits.top_up_s:
        return Said(
            says="The extra heating after the restart is used up.",
            value=now.restarted_s,
            limit=now.limits.top_up_s,
            unit="s",
        )
    return None


def top_up_silent(now: Situation) -> Said | None:
    if now.restarted_s is None or now.acoustic.status != "usable":
        return None
    quiet_s = min(now.acoustic.silence_s, now.restarted_s)
    if quiet_s >= now.limits.top_up_least_s + now.limits.gap_s:
        return Said(says="Hardly a kernel pops since the restart.", value=quiet_s, limit=now.limits.gap_s, unit="s")
    return None


def top_up_running(now: Situation) -> Said | None:
    if now.restarted_s is None:
        return None
    heating = "Heating again after a stop" if now.is_on else "Restarted after a stop, and the heating is off just now"
    return Said(
        says=f"{heating}: it may singe, stay beside it.",
        value=now.restarted_s,
        limit=now.limits.top_up_s,
        unit="s",
    )
