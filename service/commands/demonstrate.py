"""Show the service at work on an invented cook."""

import json
import os
import secrets
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from importlib.resources import files
from typing import IO, Any

import click

from service.client import NoAnswer, over_http
from service.commands.serve import gunicorn_command
from service.commands.table import HEADING, row
from service.replaying import Replayed, replayed

COOKS = ("popcorn", "reheat")
ROW_EVERY_S = 5.0
SHUTDOWN_S = 15.0
# Nobody but the demonstration calls it, whatever is set for the service that this machine may run.
_OWN = {"COOKSTOP_KEYS_FILE": "", "COOKSTOP_THREADS": "", "COOKSTOP_WORKER_CLASS": ""}


@click.command(short_help="Show it at work on an invented cook.")
@click.option("--speed", type=click.FloatRange(min=0.1), default=15.0, show_default=True,
              help="How many times faster than the cook.")  # fmt: skip
@click.option("--cook", type=click.Choice(COOKS), default=COOKS[0], show_default=True, help="What is cooked.")
def demonstrate(speed: float, cook: str) -> None:
    """Serve an invented bag of popcorn, or a plate of food, as it cooks, and show each decision.

    Starts the service on a free port of this machine, posts what a microphone and a humidity sensor would have
    reported, prints some of the answers as they come, and stops the service. Takes about ten seconds.

    \b
    Example:
      cookstop demonstrate --cook reheat --speed 30
    """
    truth = json.loads(_file(f"{cook}-truth.json"))
    with _service() as (url, server):
        click.echo(f"{truth['about']}\nAsking the service at {url}, {speed:g} times faster than the cook.\n\n{HEADING}")
        try:
            last = _play(cook, url, speed, server)
        except NoAnswer as error:
            raise click.ClickException(str(error)) from error
    if last["decision"] != "stop":
        raise click.ClickException(f"the log ended at {last['as_of']:g} s without a stop")
    click.echo(_verdict(last, truth))


def _play(cook: str, url: str, speed: float, server: subprocess.Popen[bytes]) -> Mapping[str, Any]:
    """Post the cook at its pace until the service says stop; the last answer."""
    start_s, shown = time.monotonic(), None
    for answer in replayed(_file(f"{cook}.ndjson").splitlines(), over_http(url)):
        if answer.refused:
            raise NoAnswer(f"line {answer.line} of the invented cook was refused: {answer.document['detail']}")
        if _is_worth_a_row(answer, shown):
            click.echo(row(answer.document))
            shown = answer
        if answer.document["decision"] == "stop":
            break
        _wait_until(start_s + answer.document["as_of"] / speed, server)
    return answer.document


def _is_worth_a_row(answer: Replayed, shown: Replayed | None) -> bool:
    if shown is None or answer.document["decision"] != shown.document["decision"]:
        return True
    return bool(answer.document["as_of"] - shown.document["as_of"] >= ROW_EVERY_S)


def _wait_until(moment_s: float, server: subprocess.Popen[bytes]) -> None:
    """Let time pass, but not if the server ends meanwhile."""
    try:
        server.wait(timeout=max(0.0, moment_s - time.monotonic()))
    except subprocess.TimeoutExpired:
        return
    raise NoAnswer("the service ended by itself")


def _verdict(last: Mapping[str, Any], truth: Mapping[str, Any]) -> str:
    low_s, high_s = truth["stop_window_s"]
    where = "inside" if low_s <= last["as_of"] <= high_s else "outside"
    lines = [
        "",
        f"Stopped at {last['as_of']:.0f} s: {last['reasons'][0]['says']}",
        f"A good stop would have been from {low_s:.0f} to {high_s:.0f} s, so this one is {where} that window.",
        "",
        "With every bag:" if last["evidence"]["acoustic"]["status"] != "absent" else "With every meal:",
        *(f"  - {caution}" for caution in last["cautions"]),
    ]
    return "\n".join(lines)


@contextmanager
def _service() -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """The service on a free port of this machine, for as long as the block runs."""
    with tempfile.TemporaryFile() as log:
        with socket.create_server(("127.0.0.1", 0)) as listener:
            # The open socket is handed on: no other program can take the port, and early posts wait in its queue.
            url = "http://{}:{}".format(*listener.getsockname())
            server = _start(listener.fileno(), log)
        try:
            yield url, server
        except click.ClickException:
            log.seek(0)
            click.echo(log.read().decode(errors="replace"), err=True, nl=False)
            raise
        finally:
            _end(server)


def _start(listener: int, log: IO[bytes]) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        gunicorn_command(f"fd://{listener}", workers=1),
        env={"COOKSTOP_STATE_KEYS": secrets.token_hex(32), "COOKSTOP_LOG_LEVEL": "warning", **os.environ, **_OWN},
        pass_fds=(listener,),
        stderr=log,
    )


def _end(server: subprocess.Popen[bytes]) -> None:
    server.terminate()
    try:
        server.wait(timeout=SHUTDOWN_S)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()


def _file(name: str) -> bytes:
    return (files("service.demonstration") / name).read_bytes()
