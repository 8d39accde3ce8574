"""Play logs again."""

import sys
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import IO

import click

from service.client import Ask, NoAnswer, in_process, over_http
from service.commands.log_files import lines_of
from service.commands.table import HEADING, row
from service.replaying import Replayed, replayed
from service.web.json_text import written
from service.web.settings import SettingsError

PROGRESS_EVERY = 250
MOST_COMPLAINTS = 10


@click.command(short_help="Play logs again.")
@click.argument("logs", metavar="LOG...", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False))
@click.option("--server", metavar="URL", help="Ask a running service.  [default: decide in this process]")
@click.option(
    "--key", envvar="COOKSTOP_KEY", metavar="KEY", help="Key to show to the service.  [default: $COOKSTOP_KEY]"
)
@click.option("--format", "form", type=click.Choice(["table", "ndjson"]), default="table", show_default=True)
@click.option("--output", type=click.File("w"), default="-", help="Write to a file.  [default: standard output]")
def replay(logs: tuple[str, ...], server: str | None, key: str | None, form: str, output: IO[str]) -> None:
    """Play each LOG again, and print one decision for each of its lines.

    A log holds the posts of one cook as they were sent, one JSON object a line, without `state`; the first names the
    programme. It may end with a line of what was found, and go on with another cook. It may be compressed (.gz). Wrong
    lines are told with their numbers, and make the exit status 1.

    \b
    Examples:
      cookstop replay cook.ndjson
      cookstop replay --format ndjson --output decisions.ndjson cook.ndjson.gz
      cookstop replay --server http://127.0.0.1:8080 monday.ndjson tuesday.ndjson
    """
    wrong = 0
    for log in logs:
        try:
            ask = over_http(server, key) if server else in_process()
            wrong += _play(log, ask, _writer(form, log if len(logs) > 1 else None, output), _progress(output))
        except (NoAnswer, SettingsError) as error:
            raise click.ClickException(str(error)) from error
        except (OSError, EOFError, zlib.error) as error:
            raise click.ClickException(f"{log}: cannot be read: {error}") from error
    if wrong:
        raise click.ClickException(f"{wrong} wrong line{'s' if wrong > 1 else ''}")


def _play(log: str, ask: Ask, write: Callable[[Replayed], None], progress: Callable[[int], None]) -> int:
    wrong = 0
    for answer in replayed(lines_of(Path(log)), ask):
        write(answer)
        progress(answer.line)
        if answer.refused:
            wrong += 1
            if wrong <= MOST_COMPLAINTS:
                click.echo(f"{log}, line {answer.line}: {answer.document['detail']}", err=True)
    if wrong > MOST_COMPLAINTS:
        click.echo(f"{log}: {wrong - MOST_COMPLAINTS} more wrong lines", err=True)
    return wrong


def _writer(form: str, log: str | None, output: IO[str]) -> Callable[[Replayed], None]:
    """What writes the answers of a log; with several logs, each says which one it is."""
    if form == "ndjson":
        which = {} if log is None else {"log": log}
        return lambda answer: click.echo(written(which | dict(answer.document)), file=output)
    click.echo(HEADING if log is None else f"{log}\n{HEADING}", file=output)

    def write(answer: Replayed) -> None:
        if not answer.refused:
            click.echo(row(answer.document), file=output)

    return write


def _progress(output: IO[str]) -> Callable[[int], None]:
    """What tells how far a long log is, where a person is looking and would not see it otherwise."""
    is_watched = sys.stderr.isatty() and not output.isatty()

    def tell(line: int) -> None:
        if is_watched and line % PROGRESS_EVERY == 0:
            click.echo(f"\r{line} lines", err=True, nl=False)

    return tell
