"""Make a key for a caller."""

import os
from pathlib import Path

import click

from service.web.callers import SCOPES, made_key


@click.command(short_help="Make a key for a caller.")
@click.option("--name", required=True, metavar="NAME", help="Whose key it is, such as hub-1.")
@click.option("--scope", "scopes", multiple=True, required=True, type=click.Choice(SCOPES),
              help="What it opens; may be said several times.")  # fmt: skip
@click.option("--days", type=click.IntRange(1, 3650), default=365, show_default=True, help="How long it is taken.")
@click.option("--file", "file", envvar="COOKSTOP_KEYS_FILE", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path),
              help="The file of keys to add it to.  [default: $COOKSTOP_KEYS_FILE]")  # fmt: skip
def key(name: str, scopes: tuple[str, ...], days: int, file: Path | None) -> None:
    """Make a key, and print it: this once, for only its hash is kept.

    The hash is added to the file that COOKSTOP_KEYS_FILE names, which a running service reads again by itself; without a
    file it is printed to standard error. `decide` opens /v1/decisions, `replay` /v1/replays, /v1/audits and
    /v1/calibrations, `metrics` /metrics.

    \b
    Examples:
      cookstop key --name hub-1 --scope decide --days 365 --file keys.ndjson
      cookstop key --name lab --scope decide --scope replay --file keys.ndjson
    """
    secret, made = made_key(name, tuple(dict.fromkeys(scopes)), days)
    if file is None:
        click.echo(f"the line to add to the file of keys:\n{made.line()}", err=True)
    else:
        try:
            _append(file, made.line())
        except OSError as error:
            raise click.ClickException(f"{file}: cannot be written: {error.strerror}") from error
    click.echo(secret)


def _append(file: Path, line: str) -> None:
    """Add a line to a file, which none but its owner may read if it is a new one."""
    descriptor = os.open(file, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600)
    with open(descriptor, "rb+") as opened:
        size = opened.seek(0, os.SEEK_END)
        ends = size == 0 or (opened.seek(-1, os.SEEK_END) >= 0 and opened.read(1) == b"\n")
        opened.write((b"" if ends else b"\n") + line.encode() + b"\n")
