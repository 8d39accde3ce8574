"""Compare two versions of the service, or two programmes, over a folder of logs."""

import json
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from schemas.programme import ProgrammeSchema
from service.changed_answers import (
    CookCompared,
    RecordError,
    ShortAnswer,
    compared,
    in_short,
    record_line,
    recorded,
    with_programme,
)
from service.client import NoAnswer, in_process, over_http
from service.commands.differences import HEADING, row, summary
from service.commands.log_files import lines_of, logs_under, record_beside
from service.programs.programme import ProgrammeError, load
from service.replaying import replayed
from service.web.json_text import NotJson, parsed
from service.web.settings import SettingsError

CHANGED = 1
WHO = "URL|here|record"
PROGRAMME = "NAME|FILE"
Side = Callable[[Path], Iterator[ShortAnswer]]


class CannotTell(click.ClickException):
    """It could not be compared; says why."""

    exit_code = 2


@click.command(short_help="Compare two versions or programmes.")
@click.argument("logs", metavar="LOG...", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path))
@click.option("--before", metavar=WHO, default="record", show_default=True, help="Who answers first.")
@click.option("--after", metavar=WHO, default="here", show_default=True, help="Who answers then.")
@click.option("--before-program", metavar=PROGRAMME, help="Another programme than the log names, for --before.")
@click.option("--after-program", metavar=PROGRAMME, help="The same for --after.")
@click.option("--record", "keep", is_flag=True, help="Keep what --after answers beside each log; compare nothing.")
@click.option("--tolerance", "tolerance_s", metavar="SECONDS", type=click.FloatRange(min=0.0), default=0.1,
              show_default=True, help="Deadlines and forecasts that move by no more are the same.")  # fmt: skip
@click.option("--key", envvar="COOKSTOP_KEY", metavar="KEY", help="Key to show to services.  [default: $COOKSTOP_KEY]")
@click.option("--format", "form", type=click.Choice(["table", "ndjson"]), default="table", show_default=True)
def compare(
    logs: tuple[Path, ...],
    before: str,
    after: str,
    before_program: str | None,
    after_program: str | None,
    keep: bool,
    tolerance_s: float,
    key: str | None,
    form: str,
) -> None:
    """Play each LOG, a file or a folder of them, to two services, and show what changed, cook by cook.

    Each service is a URL, `here` for this very version in this process, or `record` for what --record has kept beside
    the log (cook.decisions.ndjson beside cook.ndjson). A programme is one that the service knows by name, or a file:
    TOML, or JSON as GET /v1/programs/NAME tells it.

    The exit status is 0 where all answers are the same, 1 where a cook changed, 2 where it could not be told.

    \b
    Examples:
      cookstop compare --record kitchen/
      cookstop compare kitchen/
      cookstop compare --before http://127.0.0.1:8080 --after http://127.0.0.1:8081 kitchen/
      cookstop compare --before here --after-program popcorn-darker.toml --format ndjson kitchen/
    """
    files = logs_under(logs)
    if not files:
        raise CannotTell("there is no log in it: expected files that end in .ndjson or .ndjson.gz")
    try:
        then = _side(after, after_program, key)
        if keep:
            _keep(files, then)
            return
        cooks = _cooks(files, _side(before, before_program, key), then, tolerance_s)
        if (_table if form == "table" else _ndjson)(cooks):
            raise click.exceptions.Exit(CHANGED)
    except (SettingsError, ProgrammeError, NotJson, NoAnswer, OSError) as error:
        raise CannotTell(str(error)) from error


def _cooks(files: Iterable[Path], first: Side, then: Side, tolerance_s: float) -> Iterator[tuple[Path, CookCompared]]:
    for log in files:
        try:
            for cook in compared(first(log), then(log), tolerance_s):
                yield log, cook
        except FileNotFoundError as error:
            raise CannotTell(f"{log}: nothing was kept beside it: see --record") from error
        except (OSError, EOFError, zlib.error, RecordError) as error:
            raise CannotTell(f"{log}: {error}") from error


def _side(who: str, programme: str | None, key: str | None) -> Side:
    """What answers the lines of a log."""
    if who == "record":
        if programme is not None:
            raise CannotTell("a record was made with one programme: name another for a service")
        return lambda log: recorded(lines_of(record_beside(log)))
    if who != "here" and not who.startswith(("http://", "https://")):
        raise CannotTell(f"expected {WHO}; received {who}")
    ask = in_process() if who == "here" else over_http(who, key)
    cooked_by = None if programme is None else _programme(programme)

    def side(log: Path) -> Iterator[ShortAnswer]:
        lines = lines_of(log) if cooked_by is None else with_programme(lines_of(log), cooked_by)
        return map(in_short, replayed(lines, ask))

    return side


def _programme(text: str) -> str | Mapping[str, Any]:
    """A programme's name, or the whole of it out of a file."""
    file = Path(text)
    if file.suffix == ".toml":
        whole: Mapping[str, Any] = ProgrammeSchema().dump(load(file))
        return whole
    if file.suffix == ".json":
        read: Mapping[str, Any] = parsed(file.read_bytes())
        return read
    return text


def _keep(files: Iterable[Path], side: Side) -> None:
    for log in files:
        kept = [record_line(one) + "\n" for one in side(log)]
        record_beside(log).write_text("".join(kept), encoding="utf-8")
        click.echo(f"{record_beside(log)}: {len(kept)} answers", err=True)


def _table(cooks: Iterable[tuple[Path, CookCompared]]) -> bool:
    click.echo(HEADING)
    seen = []
    for log, cook in cooks:
        click.echo(row(log.name, cook))
        seen.append(cook)
    click.echo(summary(seen))
    return any(cook.changed for cook in seen)


def _ndjson(cooks: Iterable[tuple[Path, CookCompared]]) -> bool:
    changed = False
    for log, cook in cooks:
        click.echo(json.dumps({"log": str(log), "changed": cook.changed, **asdict(cook)}))
        changed = changed or cook.changed
    return changed
