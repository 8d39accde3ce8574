"""Audit the logs of finished cooks."""

import json
from pathlib import Path
from typing import IO

import click

from schemas.audit import audit_of
from service.audit.audit import audit
from service.commands.audit_report import WORDS, WrongProfile, cooks_to_show, profile_in
from service.commands.audit_text import told
from service.commands.many_logs import Complaints, engine_for, logs_named, worked_through
from service.extras import MissingExtra
from service.fleet.audited import CookInLog, audit_piece
from service.fleet.engines import Engine, WorkersDied
from service.fleet.tables import write_parquet
from service.report.page import page
from service.web.settings import SettingsError


@click.command(name="audit", short_help="Audit the logs of finished cooks.")
@click.argument("paths", metavar="PATH...", nargs=-1, required=True)
@click.option("--interval", "interval_pct", type=click.FloatRange(50.0, 99.9), default=95.0, show_default=True,
              help="Probability that intervals hold, in per cent.")  # fmt: skip
@click.option("--jobs", type=click.IntRange(1, 1024), help="Processes on this machine.  [default: one a core]")
@click.option("--scheduler", metavar="ADDRESS", help="Work on the cluster of this Dask scheduler (extra: fleet).")
@click.option("--parquet", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path),
              help="Write a row for each cook (extra: parquet).")  # fmt: skip
@click.option("--report", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path),
              help="Write a page with pictures, as one HTML file (extra: report).")  # fmt: skip
@click.option("--profile", metavar="FILE", type=click.Path(exists=True, dir_okay=False, path_type=Path),
              help="Show this oven profile in the report.")  # fmt: skip
@click.option("--pictures", type=click.IntRange(0, 500), default=24, show_default=True,
              help="How many cooks to draw in the report.")  # fmt: skip
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@click.option("--output", type=click.File("w"), default="-", help="Write to a file.  [default: standard output]")
def audit_logs(
    paths: tuple[str, ...],
    interval_pct: float,
    jobs: int | None,
    scheduler: str | None,
    parquet: Path | None,
    report: Path | None,
    profile: Path | None,
    pictures: int,
    form: str,
    output: IO[str],
) -> None:
    """Audit the finished cooks in each PATH: a log, a folder of logs, or a pattern such as 'kitchen/*.ndjson.gz'.

    A log holds the posts of one cook or many; each ends with a line of what was found. Tells the shares unpopped and
    scorched, compares ovens, bags and policies, says what each oven's own control follows, and what other rules would have
    done. Wrong lines are told with their numbers, left out, and make the exit status 1;
    so does a log that cannot be read to its end.

    \b
    Examples:
      cookstop audit shelf/
      cookstop audit --report shelf.html shelf/
      cookstop audit --format json --output audit.json 'shelf/*.ndjson.gz'
      cookstop audit --scheduler tcp://10.0.0.5:8786 --parquet cooks.parquet year/
    """
    complaints = Complaints()
    try:
        known = None if profile is None else profile_in(profile)
        logs = logs_named(paths)
        cooks = _audited(engine_for(logs, jobs, scheduler), logs, complaints)
        found = audit([cook.audited for cook in cooks], interval_pct / 100.0)
        click.echo(json.dumps(audit_of(found), indent=1) if form == "json" else "\n".join(told(found)), file=output)
        if parquet is not None:
            write_parquet(cooks, parquet)
        if report is not None:
            notes = (cook.audited.finished.outcome.note for cook in cooks)
            report.write_text(page(found, cooks_to_show(logs, pictures), WORDS, known, notes), encoding="utf-8")
    except (MissingExtra, WorkersDied, WrongProfile, SettingsError) as error:
        raise click.ClickException(str(error)) from error
    except OSError as error:
        raise click.ClickException(f"cannot be read or written: {error}") from error
    complaints.end()


def _audited(engine: Engine, logs: list[Path], complaints: Complaints) -> list[CookInLog]:
    """All cooks of the logs."""
    cooks: list[CookInLog] = []
    for done in worked_through(engine, audit_piece, logs, complaints):
        cooks += done.cooks
        for log, line, why in done.wrong:
            complaints.tell(log, line, why)
    return cooks
