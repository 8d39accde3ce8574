"""Write logs of invented cooks."""

import gzip
import json
from pathlib import Path

import click

from service.invented.controls import ENDS, Control
from service.invented.cook import Asked, invented_cooks
from service.invented.kinds import KINDS


def _kinds(context: click.Context, parameter: click.Parameter, kinds: tuple[str, ...]) -> tuple[str, ...]:
    del context, parameter
    unknown = sorted({*kinds} - {*KINDS})
    if unknown:
        raise click.BadParameter(f"there is no kind {', '.join(unknown)}; there are {', '.join(KINDS)}")
    return kinds or tuple(KINDS)


@click.command(short_help="Write logs of invented cooks.")
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
@click.option("--kind", "kinds", multiple=True, metavar="KIND", callback=_kinds,
              help="Only this kind of trouble; may be said several times.  [default: all]")  # fmt: skip
@click.option("--cooks", type=click.IntRange(1, 1_000_000), default=6, show_default=True, help="Cooks in each oven.")
@click.option("--ovens", type=click.IntRange(1, 10_000), default=1, show_default=True, help="Ovens of each kind.")
@click.option("--control", type=click.Choice(list(ENDS)), default="person", show_default=True,
              help="Who ends the cooks: a person who listens, or the oven by a timer, steam or sound.")  # fmt: skip
@click.option("--seed", type=click.IntRange(0, 2**31), default=1, show_default=True, help="Of the first oven.")
@click.option("--gzip", "pressed", is_flag=True, help="Compress the logs.")
def simulate(
    folder: Path, kinds: tuple[str, ...], cooks: int, ovens: int, control: Control, seed: int, pressed: bool
) -> None:
    """Write logs of invented cooks to FOLDER, a file for each oven, to try everything that takes logs.

    Nothing in them was recorded: the names of the files say so, and so does the line that ends each cook. The same seed
    gives the same cooks.

    \b
    Kinds of trouble: regular, snack, jumbo, weak-oven, pulses, door-opened, noise, strays, hard-of-hearing, deaf,
    goes-deaf, steam-away, dry-sensor, damp-kitchen, seeping-bag, stale-corn, bad-network.

    \b
    Examples:
      cookstop simulate invented/
      cookstop simulate --kind regular --kind noise --control steam --cooks 8 shelf/ && cookstop audit shelf/
    """
    folder.mkdir(parents=True, exist_ok=True)
    asked = [
        Asked(kind=kind, seed=seed + more, cooks=cooks, control=control) for kind in kinds for more in range(ovens)
    ]
    for one in asked:
        file = folder / f"invented-{one.kind}-{one.control}-{one.seed}.ndjson{'.gz' if pressed else ''}"
        with gzip.open(file, "wb") if pressed else open(file, "wb") as log:
            for lines in invented_cooks(one):
                log.writelines(json.dumps(line, separators=(",", ":")).encode() + b"\n" for line in lines)
    click.echo(f"{len(asked) * cooks} invented cooks in {len(asked)} files in {folder}")
