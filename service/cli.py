"""The `cookstop` command."""

import os
from collections.abc import Mapping
from importlib import import_module

import click

# Where each command is; imported when it is asked for, since some of them take a second to import.
COMMANDS: Mapping[str, tuple[str, str]] = {
    "audit": ("service.commands.audit", "audit_logs"),
    "calibrate": ("service.commands.calibrate", "calibrate_logs"),
    "compare": ("service.commands.compare", "compare"),
    "demonstrate": ("service.commands.demonstrate", "demonstrate"),
    "key": ("service.commands.key", "key"),
    "listen": ("service.commands.listen", "listen"),
    "replay": ("service.commands.replay", "replay"),
    "serve": ("service.commands.serve", "serve"),
    "simulate": ("service.commands.simulate", "simulate"),
}


class Commands(click.Group):
    """Knows the names of its commands before it has imported any."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """All the names, in order."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of this name, None where there is none."""
        if cmd_name not in COMMANDS:
            return None
        # The matrices are small: threads for one of them only stand in each other's way.
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
        module, name = COMMANDS[cmd_name]
        command: click.Command = getattr(import_module(module), name)
        return command


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="cookstop")
def main() -> None:
    """Says when a microwave cook should stop, from the pops that were heard and the steam that was felt.

    \b
    To see it work:            cookstop demonstrate
    To run it:                 cookstop serve
    To play a log again:       cookstop replay cook.ndjson
    To compare two versions:   cookstop compare --before http://127.0.0.1:8080 kitchen/
    To fit an oven's profile:  cookstop calibrate oven-7/ > oven-7.json
    To audit ovens and bags:   cookstop audit shelf/
    To invent cooks to try:    cookstop simulate invented/
    To hear a recording:       cookstop listen cook.wav --output cook.ndjson
    To let others call it:     cookstop key --name hub-1 --scope decide --file keys.ndjson
    """
