"""Score the service on simulated or recorded cooks: `python -m tests.simulation --help`."""

import json
from argparse import ArgumentParser, Namespace
from dataclasses import asdict
from pathlib import Path
from typing import Any

from tests.simulation import popcorn_kinds, reheat_kinds
from tests.simulation.run import Task, run, run_recorded
from tests.simulation.score import Outcome, score
from tests.simulation.table import table

LINKS = {"clean": (False,), "network": (True,), "both": (False, True)}
SETUPS = {"link": None, "said": True, "unsaid": False}
KINDS_OF = {
    "popcorn": (list(popcorn_kinds.KINDS), list(popcorn_kinds.EXTRA_KINDS), list(popcorn_kinds.HARSH_KINDS)),
    "reheat": (list(reheat_kinds.KINDS), list(reheat_kinds.EXTRA_KINDS), []),
}


def main() -> None:
    """Play the cooks asked for, print a table for each link, and write all figures where asked."""
    asked = _asked()
    outcomes = _outcomes(asked)
    results: dict[str, Any] = {}
    for network in LINKS[asked.link]:
        title = "network" if network else "clean"
        results[title] = score([one for one in outcomes if one.network == network])
        print(table(title, results[title]), end="\n\n")
    if asked.json is not None:
        results["cooks"] = [asdict(one) for one in outcomes]
        asked.json.write_text(json.dumps(results, indent=1), encoding="utf-8")


def _outcomes(asked: Namespace) -> list[Outcome]:
    links = LINKS[asked.link]
    if asked.folder is not None:
        return run_recorded(asked.folder, asked.program, asked.way, links)
    seeds = range(asked.seed, asked.seed + asked.cooks)
    tasks = [
        Task(
            kind=kind,
            seed=seed,
            network=network,
            way=asked.way,
            program=asked.program,
            says_setup=SETUPS[asked.setup],
            wide=asked.wide,
        )
        for kind in asked.kinds
        for seed in seeds
        for network in links
    ]
    return run(tasks, asked.jobs)


def _asked() -> Namespace:
    parser = ArgumentParser(prog="python -m tests.simulation", description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, help="a folder of recorded logs with a truth.json")
    parser.add_argument("--program", choices=list(KINDS_OF), default="popcorn", help="what is cooked (popcorn)")
    parser.add_argument("--cooks", type=int, default=30, help="cooks of each kind (30)")
    parser.add_argument("--seed", type=int, default=1, help="the first seed (1)")
    parser.add_argument("--jobs", type=int, default=1, help="processes (1)")
    parser.add_argument("--json", type=Path, help="write the figures and every outcome to this file")
    parser.add_argument(
        "--setup", choices=list(SETUPS), default="link", help="reheats: who says oven and load (those over the network)"
    )
    parser.add_argument("--wide", action="store_true", help="bags, meals and ovens that differ more from each other")
    _add_choices(parser)
    asked = parser.parse_args()
    asked.kinds = _kinds(parser, asked)
    return asked


def _kinds(parser: ArgumentParser, asked: Namespace) -> list[str]:
    """The kinds asked for; ends the run where the programme has no such kind."""
    usual, extra, harsh = KINDS_OF[asked.program]
    every = [*usual, *extra, *harsh]
    if asked.kinds is None:
        return {"usual": usual, "extra": extra, "harsh": harsh, "all": every}[asked.which]
    if unknown := sorted(set(asked.kinds) - set(every)):
        parser.error(f"no kind of {asked.program}: {', '.join(unknown)}; there are {', '.join(every)}")
    return list(asked.kinds)


def _add_choices(parser: ArgumentParser) -> None:
    kinds = parser.add_mutually_exclusive_group()
    kinds.add_argument("--kinds", nargs="+", metavar="KIND", help="only these kinds")
    kinds.add_argument("--extra", action="store_const", dest="which", const="extra", help="the extra kinds")
    kinds.add_argument(
        "--harsh", action="store_const", dest="which", const="harsh", help="what hubs and odd corn do to sound and time"
    )
    kinds.add_argument("--all-kinds", action="store_const", dest="which", const="all", help="every kind")
    parser.set_defaults(which="usual")
    links = parser.add_mutually_exclusive_group()
    for link in LINKS:
        links.add_argument(f"--{link}", action="store_const", dest="link", const=link, default="both")
    ways = parser.add_mutually_exclusive_group()
    ways.add_argument(
        "--http", action="store_const", dest="way", const="http", default="core", help="over HTTP, in process"
    )
    ways.add_argument(
        "--only-rules", action="store_const", dest="way", const="none", help="score the plain rules alone"
    )


if __name__ == "__main__":
    main()
