"""Run the service."""

import os
import sys

import click

from service.web.exposure import refuse_exposure
from service.web.settings import Settings, SettingsError


@click.command(short_help="Run the service.")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen at.")
@click.option("--port", type=click.IntRange(1, 65535), default=8080, show_default=True, help="Port to listen at.")
@click.option("--workers", type=click.IntRange(1, 256), help="Processes that answer.  [default: one a core]")
@click.option("--open-to-network", is_flag=True, help="Listen beyond this machine, and answer whoever asks.")
def serve(host: str, port: int, workers: int | None, open_to_network: bool) -> None:
    """Run the service under gunicorn until it is interrupted.

    On this machine callers need no key. To listen beyond it, set COOKSTOP_KEYS_FILE (`cookstop key` fills it) and
    COOKSTOP_STATE_KEYS_FILE; the latter also lets cooks go on across a restart.

    \b
    Example, with a first question:
      cookstop serve --port 8080 &
      curl -s http://127.0.0.1:8080/v1/decisions -H 'Content-Type: application/json' \\
           -d '{"program": "popcorn", "as_of": 95, "readings": {"pops": [88.1, 90.4, 91.0]}}'
    """
    if open_to_network:
        os.environ["COOKSTOP_OPEN_TO_NETWORK"] = "yes"
    try:
        refuse_exposure([host], Settings.from_environment())
    except (SettingsError, OSError) as error:
        raise click.UsageError(str(error)) from error
    address = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    command = gunicorn_command(address, workers)
    os.execv(command[0], command)


def gunicorn_command(address: str, workers: int | None = None) -> list[str]:
    """The command line that serves at an address in gunicorn's own notation."""
    command = [sys.executable, "-m", "gunicorn", "--config", "python:service.web.gunicorn_settings", "--bind", address]
    return command if workers is None else [*command, "--workers", str(workers)]
