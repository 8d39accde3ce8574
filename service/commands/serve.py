"""Run the service."""

import ipaddress
import os
import sys

import click


@click.command(short_help="Run the service.")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen at.")
@click.option("--port", type=click.IntRange(1, 65535), default=8080, show_default=True, help="Port to listen at.")
@click.option("--workers", type=click.IntRange(1, 256), help="Processes that answer.  [default: one a core]")
@click.option("--open-to-network", is_flag=True, help="Listen beyond this machine, although whoever asks is answered.")
def serve(host: str, port: int, workers: int | None, open_to_network: bool) -> None:
    """Run the service under gunicorn until it is interrupted.

    Callers need no key, so it listens on this machine alone unless it is told otherwise. Set COOKSTOP_STATE_KEYS for
    cooks that shall go on across a restart.

    \b
    Example, with a first question:
      cookstop serve --port 8080 &
      curl -s http://127.0.0.1:8080/v1/decisions -H 'Content-Type: application/json' \\
           -d '{"program": "popcorn", "as_of": 95, "readings": {"pops": [88.1, 90.4, 91.0]}}'
    """
    if not (open_to_network or _is_this_machine(host)):
        raise click.UsageError(f"{host} can be reached from outside, where whoever asks is answered;"
                               " put a proxy before it, or say --open-to-network")  # fmt: skip
    address = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    command = gunicorn_command(address, workers)
    os.execv(command[0], command)


def gunicorn_command(address: str, workers: int | None = None) -> list[str]:
    """The command line that serves at an address in gunicorn's own notation."""
    command = [sys.executable, "-m", "gunicorn", "--config", "python:service.web.gunicorn_settings", "--bind", address]
    return command if workers is None else [*command, "--workers", str(workers)]


def _is_this_machine(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
