"""Turn the recording of a cook into the readings of a microphone."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import click

from service.web.json_text import NotJson, parsed

if TYPE_CHECKING:
    from service.recording.onsets import Pop

EXTRA = "this takes scipy, of the extra `recording`: in the project's folder, pip install '.[recording]'"


@click.command(short_help="Turn a recording into readings.")
@click.argument("recording", metavar="RECORDING.wav", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--output", type=click.File("w"), default="-", help="Write to a file.  [default: standard output]")
@click.option("--format", "form", type=click.Choice(["log", "document"]), default="log", show_default=True,
              help="A log for replay, or pops with their certainties.")  # fmt: skip
@click.option("--starts", "starts_s", type=click.FloatRange(min=0.0), default=0.0, show_default=True,
              help="Second of the recording at which the cook starts.")  # fmt: skip
@click.option("--certainty", type=click.FloatRange(0.0, 1.0), default=0.5, show_default=True,
              help="Leave out what is less certain.")  # fmt: skip
@click.option("--program", default="popcorn", show_default=True, help="What was cooked, for the log.")
@click.option("--setup", metavar="JSON", default="{}", help="What is known of oven and load, for the log.")
def listen(
    recording: Path, output: IO[str], form: str, starts_s: float, certainty: float, program: str, setup: str
) -> None:
    """Hear the pops in RECORDING.wav, and write them as readings.

    The log has a post for each second of the recording and can be given to replay. Needs the extra `recording`.

    \b
    Examples:
      cookstop listen cook.wav --output readings.ndjson
      cookstop replay readings.ndjson
      cookstop listen cook.wav --format document --setup '{"load_g": 85}'
    """
    try:
        from service.recording.hearing import Heard, pops_heard
        from service.recording.numbers import shipped_numbers
        from service.recording.sound import SoundError, opened
        from service.recording.written import document, log_lines
    except ModuleNotFoundError as error:
        if not (error.name or "").startswith("scipy"):
            raise
        raise click.ClickException(EXTRA) from error
    numbers, heard, tally = shipped_numbers(), Heard(), Tally()
    head = {"program": program, "setup": _setup(setup, numbers.dead_time_s)}
    try:
        sound = opened(recording)
        if starts_s >= sound.duration_s:
            raise SoundError(f"it ends after {sound.duration_s:.1f} s, before the cook starts")
        pops = tally.counted(pops_heard(sound, numbers, heard), certainty)
        if form == "log":
            for line in log_lines(pops, head, sound.duration_s, starts_s):
                click.echo(line, file=output)
        else:
            click.echo(json.dumps(document(pops, sound, heard, numbers, starts_s)), file=output)
    except (OSError, SoundError) as error:
        raise click.ClickException(f"{recording}: {error}") from error
    mains = " or ".join(f"{hz:g}" for hz in sorted(set(heard.mains_hz)))
    click.echo(
        f"{tally.kept} pops in {sound.duration_s:.1f} s, {tally.left_out} more left out as uncertain;"
        f" none is told apart within {numbers.dead_time_s * 1000.0:g} ms of another; mains {mains} Hz",
        err=True,
    )


class Tally:
    """Counts what goes through it."""

    def __init__(self) -> None:
        self.kept = self.left_out = 0

    def counted(self, pops: "Iterator[Pop]", certainty: float) -> "Iterator[Pop]":
        """Those that are certain enough."""
        for pop in pops:
            if pop.certainty >= certainty:
                self.kept += 1
                yield pop
            else:
                self.left_out += 1


def _setup(text: str, dead_time_s: float) -> dict[str, Any]:
    """What is said of oven and load, and beside it what a recording tells: the sensor, and its dead time."""
    try:
        said = parsed(text.encode())
    except NotJson as error:
        raise click.BadParameter(str(error), param_hint="--setup") from error
    if not isinstance(said, dict) or not isinstance(said.get("oven", {}), dict):
        raise click.BadParameter("expected an object", param_hint="--setup")
    return {"sensors": ["acoustic"], **said, "oven": {"dead_time_s": dead_time_s, **said.get("oven", {})}}
