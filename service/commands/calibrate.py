"""Fit the profile of an oven to the logs of its cooks."""

import json
from typing import Any, TextIO

import click

from schemas.calibration import profile_of, refusal
from service.calibration.calibrate import calibrate
from service.calibration.trace import CookTrace
from service.commands.many_logs import Complaints, logs_named, worked_through
from service.extras import MissingExtra
from service.fleet.engines import Engine, WorkersDied, here, on_a_cluster, on_all_cores
from service.fleet.settings import log_settings
from service.fleet.traced import PROGRAMME, trace_piece
from service.programs.programme import shipped
from service.web.settings import SettingsError


@click.command(name="calibrate", short_help="Fit the profile of an oven to its logs.")
@click.argument("paths", metavar="PATH...", nargs=-1, required=True)
@click.option("--jobs", type=click.IntRange(1, 1024), help="Processes on this machine.  [default: one a core]")
@click.option("--scheduler", metavar="ADDRESS", help="Work on the cluster of this Dask scheduler (extra: fleet).")
@click.option("--output", type=click.File("w"), default="-", help="Write to a file.  [default: standard output]")
def calibrate_logs(paths: tuple[str, ...], jobs: int | None, scheduler: str | None, output: TextIO) -> None:
    """Fit the profile of one oven to its finished popcorn cooks in each PATH: a log, a folder of logs, or a pattern.

    A log holds the posts of one cook or many; each ends with a line of what was found. A good stop is one that is named
    (`good_stop_s`), that a person made, or that the counts show to be good. The profile is a JSON document that `setup.oven`
    takes as it stands. It is told in words on the standard error, and so is each value that the cooks do not support, with
    what is missing. Wrong lines are told with their numbers, left out, and make the exit status 1.

    \b
    Examples:
      cookstop calibrate --output oven-7.json oven-7/
      cookstop calibrate 'kitchen/*.ndjson.gz' > oven.json
    """
    complaints = Complaints()
    try:
        log_settings()
        profile = _profile(paths, _engine(jobs, scheduler), complaints)
    except (MissingExtra, WorkersDied, SettingsError, OSError) as error:
        raise click.ClickException(str(error)) from error
    click.echo(json.dumps(profile, indent=2), file=output)
    for says in profile["about"]["says"]:
        click.echo(says, err=True)
    for refused in profile["about"]["refused"]:
        click.echo(refusal(refused), err=True)
    complaints.end()


def _engine(jobs: int | None, scheduler: str | None) -> Engine:
    if scheduler:
        return on_a_cluster(scheduler)
    # A few cooks are sooner looked at than another process has started.
    return here if jobs == 1 else on_all_cores(jobs)


def _profile(paths: tuple[str, ...], engine: Engine, complaints: Complaints) -> dict[str, Any]:
    traces: list[CookTrace] = []
    for done in worked_through(engine, trace_piece, logs_named(paths), complaints):
        traces += done.traces
        for log, line, why in done.wrong:
            complaints.tell(log, line, why)
    return profile_of(calibrate(traces, shipped()[PROGRAMME]), PROGRAMME)
