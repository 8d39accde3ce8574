"""Simulate and play many cooks, on more than one process where asked."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from tests.simulation.posting import SimulatedCook
from tests.simulation.recorded import recorded_cooks
from tests.simulation.reheats import simulate_reheat
from tests.simulation.score import DecideLine, Outcome, outcome, play
from tests.simulation.simulator import simulate


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One cook to simulate, and the way to the decider: `core`, `http`, or `none` for the plain rules alone.

    `says_setup` is for reheats: whether the log says what oven and load are; None leaves it to the link. `wide`: whether bags,
    meals and ovens differ more from each other than usual.
    """

    kind: str
    seed: int
    network: bool
    way: str
    program: str = "popcorn"
    says_setup: bool | None = None
    wide: bool = False


def run(tasks: Sequence[Task], jobs: int) -> list[Outcome]:
    """The outcomes of all tasks, in order."""
    if jobs <= 1:
        return [_outcome_of(task) for task in tasks]
    with ProcessPoolExecutor(jobs) as pool:
        return list(pool.map(_outcome_of, tasks, chunksize=4))


def run_recorded(folder: Path, program: str, way: str, links: Iterable[bool]) -> list[Outcome]:
    """The outcomes of a programme's recorded cooks in a folder, those that came over the links asked for."""
    return [_played(cook, way) for cook in recorded_cooks(folder, program) if cook.network in links]


def _outcome_of(task: Task) -> Outcome:
    return _played(_simulated(task), task.way)


def _simulated(task: Task) -> SimulatedCook:
    if task.program == "reheat":
        return simulate_reheat(task.kind, task.seed, task.network, says_setup=task.says_setup, wide=task.wide)
    return simulate(task.kind, task.seed, task.network, wide=task.wide)


def _played(cook: SimulatedCook, way: str) -> Outcome:
    decide_line = _decider(way)
    return outcome(cook, [] if decide_line is None else play(cook, decide_line))


@cache
def _decider(way: str) -> DecideLine | None:
    """One decider a process. The service is imported only where it is played to, so that cooks can be made without it."""
    ways: Mapping[str, Callable[[], DecideLine | None]] = {"core": _core, "http": _http, "none": lambda: None}
    return ways[way]()


def _core() -> DecideLine:
    from tests.simulation.core_player import decide_in_core

    return decide_in_core


def _http() -> DecideLine:
    from tests.simulation.http_player import decider_over_http

    return decider_over_http()
