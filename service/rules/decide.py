"""The one way in: from readings to a decision, as a pure function."""

from functools import lru_cache
from statistics import NormalDist

from service.evidence.late_power import with_power_in_time
from service.evidence.refuted_power import believed_power
from service.evidence.untold_power import Listener, with_untold_offs
from service.forecast.bag_prior import bag_prior
from service.forecast.fitted import fitted
from service.forecast.outlook import Outlook
from service.forecast.popcorn import popcorn_outlook
from service.forecast.popcorn_model import popcorn_model
from service.forecast.reheat import reheat_outlook
from service.forecast.stop_time import StopTime
from service.programs.heating import cooling, heating_clock
from service.programs.programme import Programme
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from service.readings.settled import Settled
from service.readings.setup import Setup
from service.rules.decision import Decision, Reason, Remaining, Verdict
from service.rules.food_limits import food_limits_of
from service.rules.limits import Limits, limits_of
from service.rules.situation import Situation
from service.rules.table import NUDGE, judge
from service.rules.told import told_evidence


def decide(
    *,
    programme: Programme,
    setup: Setup,
    cook: Cook,
    as_of_ms: int,
    settled: Settled | None = None,
    interval_pct: float = 80.0,
) -> Decision:
    """Decide for `cook` at `as_of_ms`; readings later than that are left out of account.

    `settled` is that of the last decision of the same cook, None for the first. The same arguments give the same
    decision: there is no clock, no chance and no memory in here.
    """
    if setup.oven is not None:
        programme = fitted(programme, setup.oven)
    told = seen = cook.until(as_of_ms)
    if "acoustic" in programme.led_by:
        told, seen = _with_guesses(programme, setup, seen, as_of_ms / 1000.0)
    clock = heating_clock(programme, seen, as_of_ms)
    as_told = clock if seen is told else heating_clock(programme, told, as_of_ms)
    reach_sd = _reach_sd(interval_pct)
    foretell = popcorn_outlook if "acoustic" in programme.led_by else reheat_outlook
    outlook = foretell(programme, setup, seen, clock, reach_sd)
    limits = food_limits_of(programme, setup) if outlook.food else limits_of(programme, setup, outlook.moisture, clock)
    remaining = _remaining(outlook.stop, clock, _interval_scale(programme, outlook) * reach_sd, interval_pct)
    if remaining is not None:
        too_few = _were_no_pops(outlook, limits, clock)
        remaining = None if too_few else _not_within(remaining, _least_s(outlook, limits, clock))
    now = _situation(told, (clock, as_told), outlook, remaining, limits, settled)
    verdict, reasons = judge(now)
    return Decision(
        decision=verdict,
        as_of_s=now.as_of_s,
        remaining=_told_remaining(now, verdict, interval_pct),
        stop_by_s=_stop_by_s(now, verdict),
        post_again_in_s=_post_again_in_s(now, verdict),
        reasons=reasons,
        evidence=told_evidence(now, outlook, clock),
        cautions=programme.cautions,
        settled=_settled(now, verdict, as_of_ms, reasons),
    )


def _with_guesses(programme: Programme, setup: Setup, seen: Cook, as_of_s: float) -> tuple[Cook, Cook]:
    """The cook with its power as it must have been, and as its sound besides says that it was."""
    model = popcorn_model(programme)
    told = believed_power(seen, model.acoustic, model.moisture)
    in_time = with_power_in_time(seen)
    guessed = told if in_time is seen else believed_power(in_time, model.acoustic, model.moisture)
    bag = bag_prior(programme, model.grid, setup.rated_w, setup.load_g)
    listener = Listener(model.grid, bag.pops, model.acoustic.dead_time_s, cooling(programme))
    return told, with_untold_offs(guessed, as_of_s, listener)


def _situation(
    told: Cook,
    clocks: tuple[HeatingClock, HeatingClock],
    outlook: Outlook,
    remaining: Remaining | None,
    limits: Limits,
    settled: Settled | None,
) -> Situation:
    """`clocks` are the one that the evidence is held against, and the one of the power as told: no guess puts off a limit."""
    clock, as_told = clocks
    heating_s = max(one.now_heating_s for one in clocks)
    return Situation(
        as_of_s=clock.as_of_s,
        heating_s=heating_s,
        is_on=clock.is_on(),
        settled=settled,
        restarted_s=_restarted_s(told, settled, as_told),
        acoustic=outlook.acoustic,
        moisture=outlook.moisture,
        remaining=remaining,
        led_by=outlook.led_by,
        disagree=outlook.disagree,
        cap_in_s=min(one.cook_s_of_heating(limits.cap_s - heating_s) for one in clocks),
        limits=limits,
        heard_share=outlook.heard_share,
        food=outlook.food,
    )


@lru_cache(maxsize=64)
def _reach_sd(interval_pct: float) -> float:
    """Half the width of a central interval of a normal, in standard deviations."""
    return NormalDist().inv_cdf(0.5 + interval_pct / 200.0)


def _remaining(stop: StopTime | None, clock: HeatingClock, reach_sd: float, interval_pct: float) -> Remaining | None:
    if stop is None:
        return None
    return Remaining(
        estimate_s=clock.cook_s_after(stop.at_sd(0.0) - clock.now_u_s),
        low_s=clock.cook_s_after(stop.at_sd(-reach_sd) - clock.now_u_s),
        high_s=clock.cook_s_after(stop.at_sd(reach_sd) - clock.now_u_s),
        interval_pct=interval_pct,
    )


def _interval_scale(programme: Programme, outlook: Outlook) -> float:
    """Factor on the spread of the forecast: larger at the first pops, of which more is strays and chance than the model knows."""
    if outlook.popped_share is None or outlook.led_by == "steam":
        return programme.number("interval_scale")
    early, late = programme.number("interval_early"), programme.number("interval_late")
    return late + (early - late) * (1.0 - outlook.popped_share) ** 2


def _least_s(outlook: Outlook, limits: Limits, clock: HeatingClock) -> float:
    """For how long yet what was seen is not to be believed, whatever it foretells (s)."""
    if outlook.few_pops:
        return limits.strays_s - clock.now_heating_s
    steam = outlook.moisture.steam
    if outlook.food is not None and outlook.food.core_c is not None and steam is not None and steam.alarm_s is not None:
        return max(limits.steam_lasts_s - clock.on_s_since(steam.alarm_s), outlook.food.settles_in_s)
    return 0.0


def _were_no_pops(outlook: Outlook, limits: Limits, clock: HeatingClock) -> bool:
    """Whether a few sounds, and nothing since, are not to be believed: by now the bag whose first pops they were would steam.

    It needs a humidity sensor that works. Some seconds before the end of what few pops are put off to, so that a person is not
    told to stand by for it.
    """
    few = outlook.few_pops and outlook.acoustic.pops < limits.stop_least_pops
    nothing_since = outlook.acoustic.status == "suspect" and outlook.moisture.status == "usable"
    return few and nothing_since and clock.now_heating_s >= limits.strays_s - limits.warn_lead_s


def _not_within(remaining: Remaining, least_s: float) -> Remaining:
    """The same, but no sooner than after so many seconds: what is put off is known no better for it."""
    if least_s <= 0.0:
        return remaining
    put_off_s = max(least_s - remaining.estimate_s, 0.0)
    estimate_s = max(remaining.estimate_s, least_s)
    return Remaining(
        estimate_s=estimate_s,
        low_s=max(remaining.low_s, least_s),
        high_s=max(remaining.high_s + put_off_s, estimate_s),
        interval_pct=remaining.interval_pct,
    )


def _restarted_s(seen: Cook, settled: Settled | None, clock: HeatingClock) -> float | None:
    if settled is None or settled.stop_ms is None:
        return None
    after = seen.restarts_ms[seen.restarts_ms.searchsorted(settled.stop_ms, side="right") :]
    if not after.size:
        return None
    restarted_ms = int(after[0])
    if not seen.power_ms.size or int(seen.power_ms[-1]) < restarted_ms:
        # Nobody has reported the power since: a restart means that it is on.
        return clock.as_of_s - restarted_ms / 1000.0
    return clock.on_s_since(restarted_ms / 1000.0)


def _told_remaining(now: Situation, verdict: Verdict, interval_pct: float) -> Remaining | None:
    if verdict == "stop":
        return Remaining(estimate_s=0.0, low_s=0.0, high_s=0.0, interval_pct=interval_pct)
    if now.restarted_s is not None:
        left_s = min(now.limits.top_up_s - now.restarted_s, now.cap_in_s)
        return Remaining(estimate_s=left_s, low_s=0.0, high_s=left_s, interval_pct=interval_pct)
    ahead = now.remaining
    if ahead is None or ahead.high_s <= now.cap_in_s:
        return ahead
    return Remaining(
        estimate_s=min(ahead.estimate_s, now.cap_in_s),
        low_s=min(ahead.low_s, now.cap_in_s),
        high_s=now.cap_in_s,
        interval_pct=interval_pct,
    )


def _stop_by_s(now: Situation, verdict: Verdict) -> float:
    """The deadline that the appliance keeps by itself: as if the heating ran on without a pause."""
    if verdict == "stop":
        stopped_ms = now.settled.stop_ms if now.stopped and now.settled is not None else None
        return now.as_of_s if stopped_ms is None else min(stopped_ms / 1000.0, now.as_of_s)
    left_s = now.limits.cap_s - now.heating_s
    if now.restarted_s is not None:
        left_s = min(left_s, now.limits.top_up_s - now.restarted_s)
    elif now.remaining is not None:
        left_s = min(left_s, now.remaining.high_s)
    else:
        left_s = min(left_s, now.ends_unmeasured_s - now.heating_s)
        if now.shows_life:
            # A sensor that lives may yet speak: the deadline of a blind cook is put off while the link shows that it holds.
            left_s = min(left_s, max(now.limits.blind_s - now.heating_s, now.limits.warn_lead_s))
    return now.as_of_s + max(left_s, 0.0)


def _post_again_in_s(now: Situation, verdict: Verdict) -> float:
    limits = now.limits
    if verdict == "stop" or now.remaining is None:
        return limits.post_most_s if verdict == "stop" else limits.post_typical_s
    soonest_s = min(now.remaining.low_s, now.cap_in_s)
    return min(max(soonest_s / 4.0, limits.post_least_s), limits.post_most_s)


def _settled(now: Situation, verdict: Verdict, as_of_ms: int, reasons: tuple[Reason, ...]) -> Settled:
    before = now.settled
    nudge_ms = None if before is None else before.nudge_ms
    if any(reason.rule == NUDGE for reason in reasons):
        nudge_ms = as_of_ms
    if verdict == "stop" and not now.stopped:
        return Settled(as_of_ms=as_of_ms, stop_ms=as_of_ms, stop_rule=reasons[0].rule, nudge_ms=nudge_ms)
    # A restart is remembered through the stop that it follows, until the top-up ends with a stop of its own.
    stop_ms = None if before is None else before.stop_ms
    stop_rule = None if before is None else before.stop_rule
    return Settled(as_of_ms=as_of_ms, stop_ms=stop_ms, stop_rule=stop_rule, nudge_ms=nudge_ms)
