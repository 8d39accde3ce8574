"""The `cookstop` command."""

import click

from service.commands.audit import audit_logs
from service.commands.compare import compare
from service.commands.demonstrate import demonstrate
from service.commands.key import key
from service.commands.listen import listen
from service.commands.replay import replay
from service.commands.serve import serve
from service.commands.simulate import simulate


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="cookstop")
def main() -> None:
    """Says when a microwave cook should stop, from the pops that were heard and the steam that was felt.

    \b
    To see it work:            cookstop demonstrate
    To run it:                 cookstop serve
    To play a log again:       cookstop replay cook.ndjson
    To compare two versions:   cookstop compare --before http://127.0.0.1:8080 kitchen/
    To audit ovens and bags:   cookstop audit shelf/
    To invent cooks to try:    cookstop simulate invented/
    To hear a recording:       cookstop listen cook.wav --output cook.ndjson
    To let others call it:     cookstop key --name hub-1 --scope decide --file keys.ndjson
    """


main.add_command(audit_logs)
main.add_command(compare)
main.add_command(demonstrate)
main.add_command(key)
main.add_command(listen)
main.add_command(replay)
main.add_command(serve)
main.add_command(simulate)
