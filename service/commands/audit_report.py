"""What goes into the report of an audit beside the audit itself: some of the cooks, and the profile of an oven."""

from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from pathlib import Path
from typing import Any

from marshmallow import ValidationError

from schemas.calibration import refusal
from schemas.setup import OvenSchema
from service.commands.audit_text import control_name, group_name, measure_told, measures, other_rule, settled_by, share
from service.fleet.audited import cooks_in
from service.fleet.pieces import pieces
from service.report.cook_series import cook_series
from service.report.page import CookToShow, ProfileToShow, Words
from service.web.cook_logs import CookRead
from service.web.json_text import NotJson, parsed
from service.web.problems import wrong_inputs

WORDS = Words(
    group_name=group_name,
    share=share,
    measures=measures,
    measure_told=measure_told,
    other_rule=other_rule,
    control_name=control_name,
    settled_by=settled_by,
)
_OVEN = OvenSchema()


class WrongProfile(ValueError):
    """A file that is no oven profile; the text says why."""


def cooks_to_show(logs: Iterable[Path], most: int) -> list[CookToShow]:
    """The first cooks of the logs, played again one after the other."""
    # What cannot be read was told when the logs were audited.
    found = pieces(logs, unreadable=lambda _: None)
    read = ((piece.log, one) for piece in found for one in cooks_in(piece))
    cooks = ((log, one) for log, one in read if isinstance(one, CookRead))
    return [_to_show(log, one) for log, one in islice(cooks, most)]


def profile_in(file: Path) -> ProfileToShow:
    """The profile of an oven, by itself or as the `oven` of a larger document. Raises WrongProfile or OSError."""
    try:
        said = parsed(file.read_bytes())
        said = said["oven"] if isinstance(said, dict) and "oven" in said else said
        profile = ProfileToShow(oven=_OVEN.taken(said), remarks=tuple(_remarks(said.get("about", {}))))
    except NotJson as error:
        raise WrongProfile(f"{file}: {error}") from error
    except ValidationError as error:
        raise WrongProfile(f"{file}: {wrong_inputs(error).detail}") from error
    return profile


def _remarks(about: Mapping[str, Any]) -> Iterator[str]:
    """What a calibration says of its profile, as far as it is in the shape in which calibrations say it."""
    says, refused = about.get("says"), about.get("refused")
    yield from (one for one in (says if isinstance(says, list) else ()) if isinstance(one, str))
    for one in refused if isinstance(refused, list) else ():
        if isinstance(one, dict) and one.keys() >= {"value", "needs"}:
            yield refusal(one)


def _to_show(log: str, read: CookRead) -> CookToShow:
    outcome = read.finished.outcome
    labels = (outcome.oven, outcome.bag, outcome.policy, None if outcome.trial is None else f"trial {outcome.trial}")
    said = ", ".join(label for label in labels if label)
    where = f"{Path(log).name}, line {read.line}"
    return CookToShow(
        title=f"{said} ({where})" if said else where,
        series=cook_series(read.finished, read.programme),
    )
