"""The same work on many pieces: on all cores of this machine, or on the workers of a Dask scheduler; results in order.

A worker that dies takes nothing with it: its pieces are done again, a few times. Only a few pieces are on their way at
once, so that memory does not grow with the number of logs.

Every worker is a process that computes on one core, here as there: the results are the same to the last bit.
"""

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing
from multiprocessing import get_context
from typing import Any, Protocol, TypeVar

from service.extras import extra

P = TypeVar("P")
R = TypeVar("R")

AHEAD = 3
"""Pieces on their way for each worker."""
MOST_DEATHS = 3
_ONE_CORE = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


class WorkersDied(Exception):
    """The workers died again and again; the text says over what."""


class Engine(Protocol):
    """Does the same work on many pieces."""

    def __call__(self, work: Callable[[P], R], given: Iterable[P]) -> Iterator[R]:
        """The results, in the order of the pieces. The work must be a function that another process can import."""
        ...


def here(work: Callable[[P], R], given: Iterable[P]) -> Iterator[R]:
    """In this very process, for a few pieces."""
    return map(work, given)


def on_all_cores(jobs: int | None = None) -> Engine:
    """Processes on this machine, `jobs` of them or one a core. Raises WorkersDied when they die over the same piece."""
    count = jobs or _cores()

    def run(work: Callable[[P], R], given: Iterable[P]) -> Iterator[R]:
        with closing(_Pool(count)) as pool:
            yield from _in_order(
                lambda piece: pool.submit(work, piece), lambda sent: pool.result(work, sent), given, count
            )

    return run


def on_a_cluster(scheduler: str, timeout_s: float = 15.0) -> Engine:
    """The workers of a Dask scheduler at this address. Raises MissingExtra without the extra, OSError where none answers."""
    distributed = extra("distributed", "fleet")

    def run(work: Callable[[P], R], given: Iterable[P]) -> Iterator[R]:
        with distributed.Client(scheduler, timeout=timeout_s, set_as_default=False) as client:
            count = max(len(client.scheduler_info(n_workers=-1)["workers"]), 1)

            def submit(piece: P) -> Any:
                # Work that is not taken for pure is not mixed up with that on an equal piece.
                return client.submit(work, piece, pure=False, retries=MOST_DEATHS)

            yield from _in_order(submit, lambda sent: sent.result(), given, count)

    return run


def _cores() -> int:
    """The cores that this process may use, where the system tells; else all there are."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _in_order(submit: Callable[[P], Any], result: Callable[[Any], R], given: Iterable[P], workers: int) -> Iterator[R]:
    on_their_way: deque[Any] = deque()
    for piece in given:
        on_their_way.append(submit(piece))
        if len(on_their_way) >= AHEAD * workers:
            yield result(on_their_way.popleft())
    while on_their_way:
        yield result(on_their_way.popleft())


class _Pool:
    """Processes that are started again when one of them dies."""

    def __init__(self, count: int) -> None:
        self._count = count
        self._pool = self._started()

    def submit(self, work: Callable[[P], R], piece: P) -> tuple[P, Future[R]]:
        """Send a piece to a worker."""
        try:
            return piece, self._pool.submit(work, piece)
        except BrokenProcessPool:
            self._pool = self._started()
            return piece, self._pool.submit(work, piece)

    def result(self, work: Callable[[P], R], sent: tuple[P, Future[R]]) -> R:
        """The result, done again where the worker died over it."""
        piece, future = sent
        for _ in range(MOST_DEATHS):
            try:
                return future.result()
            except BrokenProcessPool:
                piece, future = self.submit(work, piece)
        raise WorkersDied(f"{MOST_DEATHS} workers died over {piece!r:.80}")

    def close(self) -> None:
        """End the workers."""
        self._pool.shutdown(cancel_futures=True)

    def _started(self) -> ProcessPoolExecutor:
        for name in _ONE_CORE:
            os.environ[name] = "1"
        return ProcessPoolExecutor(self._count, mp_context=get_context("spawn"))
