"""The same work on all cores and on a cluster: in order, to the last bit, whoever dies meanwhile."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from shutil import which

import pytest
from distributed import Client

from service.extras import MissingExtra, extra
from service.fleet.audited import PieceAudited, audit_piece
from service.fleet.engines import WorkersDied, on_a_cluster, on_all_cores
from service.fleet.pieces import Piece, pieces
from tests.fleet.logs_of_cooks import folder_of_logs
from tests.fleet.same_bits import bits
from tests.fleet.telling import audit_piece_and_tell
from tests.fleet.works import deadly, doubled, doubled_by_who_survives

ROOT = Path(__file__).parents[2]
READY_S = 60.0


def test_results_come_in_the_order_of_the_pieces() -> None:
    assert list(on_all_cores(2)(doubled, range(20))) == [2 * number for number in range(20)]


def test_pieces_are_taken_only_as_they_are_done() -> None:
    """Memory does not grow with the number of logs."""
    taken: list[int] = []
    results = on_all_cores(1)(doubled, (taken.append(number) or number for number in range(1000)))
    next(results)
    assert len(taken) < 10
    results.close()  # type: ignore[attr-defined]


def test_what_a_dead_worker_was_at_is_done_again(tmp_path: Path) -> None:
    given = [(number, str(tmp_path / "died")) for number in range(6)]
    assert list(on_all_cores(2)(doubled_by_who_survives, given)) == [0, 2, 4, 6, 8, 10]
    assert (tmp_path / "died").exists()


def test_a_piece_that_kills_every_worker_ends_the_run() -> None:
    with pytest.raises(WorkersDied, match="workers died over 7"):
        list(on_all_cores(1)(deadly, [7]))


def test_a_missing_extra_says_how_to_install_it() -> None:
    with pytest.raises(MissingExtra, match=r"this needs no_such_package: pip install 'cookstop\[fleet\]'"):
        extra("no_such_package.inside", "fleet")


@contextmanager
def started(*command: str) -> Iterator[subprocess.Popen[str]]:
    """A process for as long as the block runs."""
    environ = {**os.environ, "PYTHONPATH": str(ROOT), "DASK_DISTRIBUTED__LOGGING__DISTRIBUTED": "warning"}
    process = subprocess.Popen(command, env=environ, stderr=subprocess.DEVNULL, text=True)
    try:
        yield process
    finally:
        process.kill()
        process.wait()


@contextmanager
def cluster(folder: Path, workers: int) -> Iterator[tuple[str, list[subprocess.Popen[str]]]]:
    """A scheduler and its workers, each a process on loopback: the address, and the workers."""
    dask = which("dask", path=str(Path(sys.executable).parent))
    assert dask is not None
    file = str(folder / "scheduler.json")
    with ExitStack() as stack:
        scheduler = ("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", file)
        stack.enter_context(started(dask, *scheduler))
        each = ("worker", "--scheduler-file", file, "--no-nanny", "--nthreads", "1", "--no-dashboard",
                "--host", "127.0.0.1", "--local-directory", str(folder))  # fmt: skip
        running = [stack.enter_context(started(dask, *each)) for _ in range(workers)]
        with Client(scheduler_file=file, timeout=f"{READY_S}s", set_as_default=False) as client:
            client.wait_for_workers(workers, timeout=READY_S)
            address = client.scheduler.address
        yield address, running


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, list[subprocess.Popen[str]]]]:
    with cluster(tmp_path_factory.mktemp("cluster"), 2) as found:
        yield found


def audited_here(logs: list[Path]) -> list[PieceAudited]:
    return list(on_all_cores(1)(audit_piece, pieces(logs, 1)))


def test_the_same_command_gives_the_same_on_a_cluster(
    tmp_path: Path, running: tuple[str, list[subprocess.Popen[str]]]
) -> None:
    folder_of_logs(tmp_path, 2)
    told = [
        subprocess.run(
            [sys.executable, "-m", "service", "audit", *where, "--format", "json", str(tmp_path)],
            env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, check=True, text=True,
        ).stdout
        for where in (("--scheduler", running[0]), ("--jobs", "1"))
    ]  # fmt: skip
    assert told[0] == told[1]
    assert '"cooks": 4' in told[0]


def test_a_cluster_that_loses_a_worker_gives_what_this_machine_gives(
    tmp_path: Path, running: tuple[str, list[subprocess.Popen[str]]]
) -> None:
    """To the last bit. Which process did what is left in a folder, so that both are seen to have worked."""
    address, workers = running
    logs = folder_of_logs(tmp_path, 6)
    seen = tmp_path / "seen"
    seen.mkdir()
    given: list[tuple[Piece, str]] = [(piece, str(seen)) for piece in pieces(logs, 1)]
    results = on_a_cluster(address)(audit_piece_and_tell, given)
    found = [next(results), next(results)]
    os.kill(workers[0].pid, signal.SIGKILL)
    found += results
    assert workers[0].wait() == -signal.SIGKILL
    assert {name.name.partition("-")[0] for name in seen.iterdir()} == {str(worker.pid) for worker in workers}
    expected = audited_here(logs)
    assert len(found) == len(given)
    assert [bits(one) for one in found] == [bits(one) for one in expected]


def test_no_scheduler_is_told(tmp_path: Path) -> None:
    with pytest.raises(OSError, match=r"127\.0\.0\.1:1"):
        list(on_a_cluster("tcp://127.0.0.1:1", timeout_s=1.0)(doubled, [1]))
