"""Where the time of one decision goes: `python -m tests.bench.stages [--pops 400] [--picture FILE]`."""

from argparse import ArgumentParser
from collections.abc import Callable
from pathlib import Path

from schemas.answer import answer_of
from schemas.request import DecisionRequestSchema
from service.evidence.acoustic import acoustic_evidence
from service.evidence.moisture import moisture_evidence
from service.forecast.popcorn import popcorn_outlook
from service.forecast.popcorn_model import bag_prior, popcorn_model
from service.readings.heating import HeatingClock
from service.readings.packing import Packed, pack, unpack
from service.rules.decide import decide
from service.web.json_text import parsed, written
from service.web.tokens import Tokens
from tests.bench.histories import AS_OF_S, body, history
from tests.bench.timing import Timed, side_by_side
from tests.bench.wsgi import KEY, answered, application, caller
from tests.cooks import NOTHING_SAID, POPCORN

_LIMIT = 200_000


def calls(pops: int) -> dict[str, Callable[[], object]]:
    """A call for each stage of answering a batch of one second, after a history of so many pops."""
    told, app = history(pops), application()
    as_of_ms = round(1000.0 * AS_OF_S)
    first = answered(caller(app, "/v1/decisions", body(program="popcorn", readings=told.before, as_of=AS_OF_S - 1.0)))
    sent = body(readings=told.lately, as_of=AS_OF_S, state=first["state"])
    schema, tokens = DecisionRequestSchema(), Tokens((KEY,), purpose="cook state", longest=10**6)
    value = parsed(sent)
    request = schema.taken(value)
    packed = unpack(tokens.open(first["state"]), limit=_LIMIT)
    cook = packed.cook.merged(request.cook)
    model = popcorn_model(POPCORN)
    prior = bag_prior(model, None, None).pops
    decision = decide(programme=POPCORN, setup=NOTHING_SAID, cook=cook, as_of_ms=as_of_ms, settled=packed.settled)
    answer = answer_of(decision) | {"state": first["state"]}
    carried = Packed(programme="popcorn", setup_json=packed.setup_json, settled=decision.settled, cook=cook)

    def clock() -> HeatingClock:
        return HeatingClock.of(cook.until(as_of_ms), as_of_ms, cooling_share=0.1, cooling_max_s=3.0)

    def evidence() -> object:
        sound = acoustic_evidence(cook, clock(), model.grid, prior, model.acoustic)
        return sound, moisture_evidence(cook, model.moisture)

    return {
        "JSON read": lambda: parsed(sent),
        "validation": lambda: schema.taken(value),
        "token opened": lambda: unpack(tokens.open(first["state"]), limit=_LIMIT).cook.merged(request.cook),
        "evidence": evidence,
        "outlook": lambda: popcorn_outlook(POPCORN, NOTHING_SAID, cook, clock(), 1.28),
        "decision": lambda: decide(
            programme=POPCORN, setup=NOTHING_SAID, cook=cook, as_of_ms=as_of_ms, settled=packed.settled
        ),
        "token sealed": lambda: tokens.seal(pack(carried)),
        "dump": lambda: answer_of(decision),
        "JSON written": lambda: written(answer),
        "whole request": caller(app, "/v1/decisions", sent),
    }


def shares(timed: dict[str, Timed]) -> dict[str, float]:
    """Median microseconds by stage. Forecast and rules are what is left of a call that does more; so is the framework."""
    us = {name: one.median_us for name, one in timed.items()}
    stages = {
        "JSON read": us["JSON read"],
        "validation": us["validation"],
        "token opened": us["token opened"],
        "evidence": us["evidence"],
        "forecast": max(us["outlook"] - us["evidence"], 0.0),
        "rules": max(us["decision"] - us["outlook"], 0.0),
        "token sealed": us["token sealed"],
        "dump": us["dump"],
        "JSON written": us["JSON written"],
    }
    return stages | {"framework": max(us["whole request"] - sum(stages.values()), 0.0)}


def draw(stages: dict[str, float], pops: int, file: Path) -> None:
    """A bar a stage. Raises ImportError without matplotlib."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.0, 3.6), layout="constrained")
    axes = figure.subplots()
    bars = axes.barh(list(stages), list(stages.values()), color="#c77d2e")
    axes.bar_label(bars, fmt="%.0f", padding=3)
    axes.invert_yaxis()
    axes.set_xlabel(f"median microseconds, one decision after {pops} pops")
    axes.spines[["top", "right"]].set_visible(False)
    figure.savefig(file)


def main() -> None:
    """Print the table, and draw the picture where asked."""
    parser = ArgumentParser(prog="python -m tests.bench.stages", description=__doc__)
    parser.add_argument("--pops", type=int, default=400, help="pops of history (400)")
    parser.add_argument("--turns", type=int, default=600, help="how often each stage is timed (600)")
    parser.add_argument("--picture", type=Path, help="draw it to this .svg or .png file (needs matplotlib)")
    asked = parser.parse_args()
    timed = side_by_side(calls(asked.pops), turns=asked.turns)
    stages = shares(timed)
    total = sum(stages.values())
    print(f"One decision after {asked.pops} pops, medians of {asked.turns} turns in alternation\n")
    print(f"{'stage':14}{'us':>8}{'share':>8}")
    for name, us in stages.items():
        print(f"{name:14}{us:8.0f}{us / total:8.0%}")
    print(f"{'whole request':14}{total:8.0f}\n")
    decision = timed["decision"]
    print(f"evidence + forecast + rules: {decision.median_us:.0f} us median, {decision.least_us:.0f} at the least")
    if asked.picture is not None:
        draw(stages, asked.pops, asked.picture)


if __name__ == "__main__":
    main()
