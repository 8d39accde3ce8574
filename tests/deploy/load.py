"""Many hubs at once, each posting cook after cook and holding every answer against what an undisturbed server says."""

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import TypeVar

from tests.deploy.client import Client, Lost
from tests.deploy.cooks import logs, undisturbed

COOKS = 7
Found = TypeVar("Found")


@dataclass(slots=True, kw_only=True)
class Load:
    """What became of the cooks of some hubs.

    Attributes:
        cooks: cooks that came to their end.
        wrong: those of them in which an answer differed by so much as a byte.
        lost: why cooks did not come to their end.
        retries: posts that had to be sent again.
        broken: those of them that a server had begun to listen to.
        took_s: how long each post took until it was answered, waits between tries included.
    """

    cooks: int = 0
    wrong: int = 0
    lost: list[str] = field(default_factory=list)
    retries: int = 0
    broken: int = 0
    took_s: list[float] = field(default_factory=list)

    def percentile_ms(self, share: float) -> float:
        """The time within which this share of the posts was answered."""
        ordered = sorted(self.took_s)
        return 1000.0 * ordered[min(int(share * len(ordered)), len(ordered) - 1)]

    def add(self, other: "Load") -> None:
        """Take in what another hub, or another while, has seen."""
        self.cooks += other.cooks
        self.wrong += other.wrong
        self.lost += other.lost
        self.retries += other.retries
        self.broken += other.broken
        self.took_s += other.took_s

    def row(self) -> str:
        """The figures as the cells of a table: see HEAD."""
        answered = f"{len(self.took_s)} | {self.percentile_ms(0.5):.0f} | {self.percentile_ms(0.99):.0f}"
        worst = f"{1000.0 * max(self.took_s):.0f}"
        return (
            f"{self.cooks} | {answered} | {worst} | {self.retries} | {self.broken} | {self.wrong} | {len(self.lost)} |"
        )


HEAD = "cooks | posts | p50 ms | p99 ms | worst ms | sent again | of them broken off | cooks answered otherwise | cooks lost |"
RULE = "---|---|---|---|---|---|---|---|---|"


def under_load(hubs: Callable[[int], Client], count: int, meanwhile: Callable[[], Found]) -> tuple[Load, Found]:
    """Run so many hubs for as long as something takes, and let each bring its cook to the end; both outcomes."""
    logs(COOKS), undisturbed(COOKS)
    over = threading.Event()
    with ThreadPoolExecutor(count) as pool:
        running = [pool.submit(_cook_after_cook, hubs(at), at, over) for at in range(count)]
        try:
            found = meanwhile()
        finally:
            over.set()
    load = Load()
    for one in running:
        load.add(one.result())
    return load, found


def pause(seconds: float) -> None:
    """Let the hubs work for a while."""
    threading.Event().wait(seconds)


def _cook_after_cook(client: Client, first: int, over: threading.Event) -> Load:
    load, at = Load(), first
    with client:
        while not over.is_set():
            cook = at % COOKS
            try:
                _count(load, client.cook(logs(COOKS)[cook]), undisturbed(COOKS)[cook])
            except Lost as error:
                load.lost.append(str(error))
            at += 1
    load.retries, load.broken, load.took_s = client.retries, client.broken, client.took_s
    return load


def _count(load: Load, said: Sequence[bytes], expected: Sequence[bytes]) -> None:
    load.cooks += 1
    load.wrong += tuple(said) != tuple(expected)
