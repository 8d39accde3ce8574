"""Play logs again."""

from contextlib import nullcontext
from functools import partial
from pathlib import Path
from typing import IO

import click

from service.client import Ask, NoAnswer, over_http
from service.commands.many_logs import Complaints, engine_for, logs_named, worked_through
from service.commands.table import HEADING
from service.commands.told_answers import told_document, told_row
from service.extras import MissingExtra
from service.fleet.decision_rows import DecisionsFile, decisions_file, row_of
from service.fleet.engines import Engine, WorkersDied
from service.fleet.pieces import pieces
from service.fleet.replayed import Tell, replay_piece
from service.replaying import replayed
from service.web.settings import SettingsError


@click.command(short_help="Play logs again.")
@click.argument("paths", metavar="PATH...", nargs=-1, required=True)
@click.option("--server", metavar="URL", help="Ask a running service.  [default: decide on this machine]")
@click.option(
    "--key", envvar="COOKSTOP_KEY", metavar="KEY", help="Key to show to the service.  [default: $COOKSTOP_KEY]"
)
@click.option("--jobs", type=click.IntRange(1, 1024), help="Processes on this machine.  [default: one a core]")
@click.option("--scheduler", metavar="ADDRESS", help="Decide on the cluster of this Dask scheduler (extra: fleet).")
@click.option("--parquet", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path),
              help="Write a row for each decision too (extra: parquet).")  # fmt: skip
@click.option("--format", "form", type=click.Choice(["table", "ndjson"]), default="table", show_default=True)
@click.option("--output", type=click.File("w"), default="-", help="Write to a file.  [default: standard output]")
def replay(
    paths: tuple[str, ...],
    server: str | None,
    key: str | None,
    jobs: int | None,
    scheduler: str | None,
    parquet: Path | None,
    form: str,
    output: IO[str],
) -> None:
    """Play the logs in each PATH again, and print one decision for each of their lines.

    A PATH is a log, a folder of logs, or a pattern such as 'kitchen/*.ndjson.gz'. A log holds the posts of one cook as they
    were sent, one JSON object a line, without `state`; the first names the programme. It may end with a line of what was
    found, and go on with another cook. It may be compressed (.gz). Wrong lines are told with their numbers, and make the
    exit status 1.

    \b
    Examples:
      cookstop replay cook.ndjson
      cookstop replay --format ndjson --output decisions.ndjson kitchen/
      cookstop replay --parquet decisions.parquet --output /dev/null 'year/*.ndjson.gz'
      cookstop replay --server http://127.0.0.1:8080 monday.ndjson tuesday.ndjson
    """
    complaints = Complaints()
    logs = logs_named(paths)
    try:
        with nullcontext() if parquet is None else decisions_file(parquet) as rows:
            told = _Told(form, output, rows, several=len(logs) > 1)
            if server:
                for log in logs:
                    _play_on(over_http(server, key), log, told, complaints)
            else:
                _play_here(engine_for(logs, jobs, scheduler), logs, told, complaints)
    except (NoAnswer, SettingsError, MissingExtra, WorkersDied, OSError) as error:
        raise click.ClickException(str(error)) from error
    complaints.end()


class _Told:
    """Where the answers go, and how they are told: rows under a heading, or documents that say of which log they are.

    `rows` takes a row of a table for people's own tools too, where one is wanted.
    """

    def __init__(self, form: str, output: IO[str], rows: DecisionsFile | None, *, several: bool) -> None:
        self._output = output
        self.rows = rows
        self._several = several
        self._is_table = form == "table"
        self._at: str | None = None
        self.tell: Tell = told_row if self._is_table else partial(told_document, several=several)

    def write(self, log: str, text: str) -> None:
        """Write what is told of some lines of a log, as lines of a text."""
        if self._is_table and self._at != log:
            click.echo(f"{log}\n{HEADING}" if self._several else HEADING, file=self._output)
        self._at = log
        click.echo(text, file=self._output, nl=False)

    def is_seen(self) -> bool:
        """Whether a person sees them come."""
        return self._output.isatty()


def _play_here(engine: Engine, logs: list[Path], told: _Told, complaints: Complaints) -> None:
    work = partial(replay_piece, tell=told.tell, with_rows=told.rows is not None)
    for done in worked_through(engine, work, logs, complaints, is_shown=not told.is_seen()):
        told.write(done.log, done.told)
        if told.rows is not None:
            told.rows(done.rows)
        for line, why in done.wrong:
            complaints.tell(done.log, line, why)


def _play_on(ask: Ask, log: Path, told: _Told, complaints: Complaints) -> None:
    for answer in replayed(
        (line for piece in pieces([log], unreadable=complaints.unreadable) for line in piece.lines), ask
    ):
        text = told.tell(str(log), answer.document)
        told.write(str(log), "" if text is None else f"{text}\n")
        if told.rows is not None and (found := row_of(str(log), answer.line, answer.document)) is not None:
            told.rows((found,))
        if answer.refused:
            complaints.tell(str(log), answer.line, answer.document["detail"])
