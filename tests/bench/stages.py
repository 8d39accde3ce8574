"""Where the time of a decision goes: `python -m tests.bench.stages [--pops 400] [--log FILE] [--picture FILE]`.

Of one post after a history, or of all posts of a log of popcorn.
"""

import json
from argparse import ArgumentParser
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from schemas.answer import answer_of
from schemas.request import DecisionRequestSchema
from service.evidence.acoustic import acoustic_evidence
from service.evidence.moisture import moisture_evidence
from service.forecast.bag_prior import bag_prior
from service.forecast.popcorn import popcorn_outlook
from service.forecast.popcorn_model import popcorn_model
from service.programs.heating import heating_clock
from service.readings.cook import Cook
from service.readings.heating import HeatingClock
from service.readings.packing import Packed, pack, unpack
from service.readings.settled import Settled
from service.rules.decide import decide
from service.rules.decision import Decision
from service.web.json_text import parsed, written
from service.web.tokens import Tokens
from tests.bench.histories import AS_OF_S, body, history
from tests.bench.timing import side_by_side
from tests.bench.wsgi import KEY, answered, application, caller
from tests.cooks import NOTHING_SAID, POPCORN

_LIMIT = 200_000
_SCHEMA, _TOKENS = DecisionRequestSchema(), Tokens((KEY,), purpose="cook state", longest=10**6)
_MODEL = popcorn_model(POPCORN)
_PRIOR = bag_prior(_MODEL.programme, _MODEL.grid, None, None).pops


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moment:
    """A post and all that becomes of it on its way through the service."""

    sent: bytes
    value: Any
    state: str | None
    read: Cook
    cook: Cook
    clock: HeatingClock
    as_of_ms: int
    before: Settled | None
    decision: Decision
    carried: Packed
    request: Callable[[], bytes]


def moments(posts: Iterable[dict[str, Any]]) -> list[Moment]:
    """Each post of a cook, which goes on from the state of the one before."""
    app, state, found = application(), None, []
    for post in posts:
        sent = body(**post, **({"program": "popcorn"} if state is None else {"state": state}))
        request = caller(app, "/v1/decisions", sent)
        read = _SCHEMA.taken(parsed(sent)).cook
        before = None if state is None else unpack(_TOKENS.open(state), limit=_LIMIT)
        cook, settled = (read, None) if before is None else (before.cook.merged(read), before.settled)
        as_of_ms = round(1000.0 * post["as_of"])
        decision = decide(programme=POPCORN, setup=NOTHING_SAID, cook=cook, as_of_ms=as_of_ms, settled=settled)
        found.append(
            Moment(
                sent=sent,
                value=parsed(sent),
                state=state,
                read=read,
                cook=cook,
                clock=heating_clock(POPCORN, cook, as_of_ms),
                as_of_ms=as_of_ms,
                before=settled,
                decision=decision,
                carried=Packed(programme="popcorn", setup_json=b"{}", settled=decision.settled, cook=cook),
                request=request,
            )
        )
        state = answered(request)["state"]
    return found


def calls(one: Moment) -> dict[str, Callable[[], object]]:
    """A call for each stage of answering a post."""
    answer = answer_of(one.decision) | {"state": one.state}
    return {
        "JSON read": lambda: parsed(one.sent),
        "validation": lambda: _SCHEMA.taken(one.value),
        "token opened": lambda: _opened(one),
        "heating clock": lambda: heating_clock(POPCORN, one.cook, one.as_of_ms),
        "sound": lambda: acoustic_evidence(one.cook, one.clock, _MODEL.grid, _PRIOR, _MODEL.acoustic),
        "vapour": lambda: moisture_evidence(one.cook, _MODEL.moisture, one.clock.as_of_s),
        "outlook": lambda: popcorn_outlook(POPCORN, NOTHING_SAID, one.cook, one.clock, 1.28),
        "decision": lambda: decide(
            programme=POPCORN, setup=NOTHING_SAID, cook=one.cook, as_of_ms=one.as_of_ms, settled=one.before
        ),
        "token sealed": lambda: _TOKENS.seal(pack(one.carried)),
        "dump": lambda: answer_of(one.decision),
        "JSON written": lambda: written(answer),
        "whole request": one.request,
    }


def _opened(one: Moment) -> Cook | None:
    return None if one.state is None else unpack(_TOKENS.open(one.state), limit=_LIMIT).cook.merged(one.read)


def shares(us: dict[str, float]) -> dict[str, float]:
    """Microseconds by stage, from those by call. Forecast, rules and the rest are what is left of a call that does more."""
    evidence = ("heating clock", "sound", "vapour")
    stages = {name: us[name] for name in ("JSON read", "validation", "token opened", *evidence)} | {
        "forecast": max(us["outlook"] - us["sound"] - us["vapour"], 0.0),
        "rules": max(us["decision"] - us["outlook"] - us["heating clock"], 0.0),
        "token sealed": us["token sealed"],
        "dump": us["dump"],
        "JSON written": us["JSON written"],
    }
    return stages | {"framework and rest": max(us["whole request"] - sum(stages.values()), 0.0)}


def draw(stages: dict[str, float], what: str, file: Path) -> None:
    """A bar a stage. Raises ImportError without matplotlib."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.0, 3.6), layout="constrained")
    axes = figure.subplots()
    bars = axes.barh(list(stages), list(stages.values()), color="#c77d2e")
    axes.bar_label(bars, fmt="%.0f", padding=3)
    axes.invert_yaxis()
    axes.set_xlabel(f"microseconds, {what}")
    axes.spines[["top", "right"]].set_visible(False)
    figure.savefig(file)


def main() -> None:
    """Print the table, and draw the picture where asked."""
    parser = ArgumentParser(prog="python -m tests.bench.stages", description=__doc__)
    parser.add_argument("--pops", type=int, default=400, help="pops of history (400)")
    parser.add_argument("--log", type=Path, help="all posts of this log instead")
    parser.add_argument("--turns", type=int, help="how often each stage is timed (600, of a log 10)")
    parser.add_argument("--picture", type=Path, help="draw it to this .svg or .png file (needs matplotlib)")
    asked = parser.parse_args()
    if asked.log is None:
        timed, what = moments(_posts_of_history(asked.pops))[1:], f"a decision after {asked.pops} pops"
    else:
        timed, what = moments(_posts_of_log(asked.log)), f"a decision of {asked.log.name}"
    turns = asked.turns or (600 if asked.log is None else 10)
    took = [side_by_side(calls(one), turns=turns) for one in timed]
    median_us = {name: float(np.mean([one[name].median_us for one in took])) for name in took[0]}
    least_us = {name: float(np.mean([one[name].least_us for one in took])) for name in took[0]}
    stages, least = shares(median_us), shares(least_us)
    print(f"{what}, microseconds: the median of {turns} turns in alternation, and the least\n")
    for name, us in stages.items():
        print(f"{name:20}{us:8.0f}{us / median_us['whole request']:6.0%}{least[name]:8.0f}")
    print(f"{'whole request':20}{median_us['whole request']:8.0f}{least_us['whole request']:14.0f}\n")
    print(
        f"evidence + forecast + rules: {median_us['decision']:.0f} us median, {least_us['decision']:.0f} at the least"
    )
    if len(timed) > 1:
        all_ms = (len(timed) / 1000.0 * us["decision"] for us in (median_us, least_us))
        print("all {} posts: {:.1f} ms, {:.1f} at the least".format(len(timed), *all_ms))
    if asked.picture is not None:
        draw(stages, what, asked.picture)


def _posts_of_history(pops: int) -> list[dict[str, Any]]:
    told = history(pops)
    return [{"readings": told.before, "as_of": AS_OF_S - 1.0}, {"readings": told.lately, "as_of": AS_OF_S}]


def _posts_of_log(log: Path) -> list[dict[str, Any]]:
    """Its posts, without what they say of programme and setup."""
    posts = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    return [{"readings": post["readings"], "as_of": post["as_of"]} for post in posts if "as_of" in post]


if __name__ == "__main__":
    main()
