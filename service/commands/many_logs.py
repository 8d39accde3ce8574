"""Work over the logs that a command was given: files, folders and patterns, with a bar that tells how far it is."""

import sys
from collections.abc import Callable, Iterator
from glob import glob
from pathlib import Path
from typing import Protocol, TypeVar

import click

from service.commands.log_files import logs_under
from service.fleet.engines import Engine, here, on_a_cluster, on_all_cores
from service.fleet.pieces import Piece, UnreadableLog, pieces
from service.fleet.settings import log_settings

MOST_COMPLAINTS = 10
FEW_BYTES = 500_000
"""Up to here processes would take longer to start than the work takes."""


class Done(Protocol):
    """What came of a piece of a log; it says how many bytes of files were read for it."""

    @property
    def read_bytes(self) -> int:
        """Bytes of files."""
        ...


D = TypeVar("D", bound=Done)


def logs_named(paths: tuple[str, ...]) -> list[Path]:
    """The logs that these paths and patterns mean, each once, in order. Raises ClickException for none."""
    named = [path for path in paths if not Path(path).exists()]
    missing = [path for path in named if not glob(path, recursive=True)]
    if missing:
        raise click.BadParameter(f"there is no {missing[0]!r}", param_hint="PATH")
    every = [
        Path(one) for path in paths for one in ([path] if path not in named else sorted(glob(path, recursive=True)))
    ]
    found = logs_under(every)
    if not found:
        raise click.ClickException("there is no log in it: expected files that end in .ndjson or .ndjson.gz")
    return found


def engine_for(logs: list[Path], jobs: int | None, scheduler: str | None) -> Engine:
    """What does the work: a cluster, so many processes, or for a few logs this one. Raises SettingsError, MissingExtra."""
    # A limit that cannot be used is told here, not by a worker.
    log_settings()
    if scheduler:
        return on_a_cluster(scheduler)
    is_little = jobs is None and sum(log.stat().st_size for log in logs) <= FEW_BYTES
    return here if is_little else on_all_cores(jobs)


def worked_through(
    engine: Engine, work: Callable[[Piece], D], logs: list[Path], complaints: "Complaints", *, is_shown: bool = True
) -> Iterator[D]:
    """What comes of each piece of the logs, in order; a bar on the standard error where a person looks and `is_shown`.

    A log that cannot be read to its end is complained of, and the others are gone on with.
    """
    length, hidden = sum(log.stat().st_size for log in logs), not (is_shown and sys.stderr.isatty())
    with click.progressbar(length=length, label="logs", file=sys.stderr, hidden=hidden) as bar:
        for done in engine(work, pieces(logs, unreadable=complaints.unreadable)):
            yield done
            bar.update(done.read_bytes)


class Complaints:
    """Wrong lines, told on the standard error: the first of each log, and of the others how many; and logs that broke off."""

    def __init__(self) -> None:
        self.count = 0
        self._of_log: dict[str, int] = {}
        self._broken_off = 0

    def tell(self, log: str, line: int, why: str) -> None:
        """Tell of one, unless there were very many in its log."""
        self.count += 1
        held = self._of_log[log] = self._of_log.get(log, 0) + 1
        if held <= MOST_COMPLAINTS:
            click.echo(f"{log}, line {line}: {why}", err=True)

    def unreadable(self, why: UnreadableLog) -> None:
        """Tell of a log that cannot be read to its end."""
        self._broken_off += 1
        click.echo(str(why), err=True)

    def end(self) -> None:
        """Tell how many were not told. Raises ClickException where there was any."""
        for log, count in self._of_log.items():
            if count > MOST_COMPLAINTS:
                click.echo(f"{log}: {count - MOST_COMPLAINTS} more wrong lines", err=True)
        logs = f"{self._broken_off} log{'s' if self._broken_off > 1 else ''} that cannot be read to the end"
        lines = f"{self.count} wrong line{'s' if self.count > 1 else ''}"
        if self.count or self._broken_off:
            raise click.ClickException(
                " and ".join(part for part, many in ((lines, self.count), (logs, self._broken_off)) if many)
            )
