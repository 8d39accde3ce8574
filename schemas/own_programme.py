"""The programme of a request: the name of one that is served, or one that the caller brings along."""

import hashlib
import json
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from marshmallow import ValidationError

from schemas.strict import Strict, Text, received
from service.programs.own import own_programme
from service.programs.programme import Programme, ProgrammeError
from service.rules.trial import tried

LONGEST = 65_536
LONGEST_SAID = 300
OWN = "own:"
"""How the name of a programme begins that a state is bound to and that no server knows."""
_NAME = Text(100)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OwnProgramme:
    """A programme that came with a request, and what a state is bound to: a digest of all that it says."""

    programme: Programme
    binding: str


class ProgrammeField(Strict["str | OwnProgramme"]):
    """A name, or an object in the shape in which a programme is told."""

    def taken(self, value: Any) -> str | OwnProgramme:
        if not isinstance(value, str | dict):
            raise ValidationError(
                f"expected the name of a programme, or an object that is one; received {received(value)}"
            )
        if isinstance(value, str):
            return _NAME.taken(value)
        text = json.dumps(value, sort_keys=True, separators=(",", ":"))
        if len(text) > LONGEST:
            raise ValidationError(f"expected a programme of {LONGEST} characters at most; received {len(text)}")
        try:
            return _own(text)
        except ProgrammeError as error:
            raise ValidationError(_placed(error.says, error.at)) from error


@lru_cache(maxsize=16)
def _own(text: str) -> OwnProgramme:
    """One for each content, so that what is worked out for a programme once is found again."""
    programme = tried(own_programme(json.loads(text)))
    digest = hashlib.sha256(text.encode()).hexdigest()
    return OwnProgramme(programme=programme, binding=f"{OWN}{digest[:32]}")


def _placed(says: str, at: tuple[str, ...]) -> Any:
    """A message under the names that lead to what it is about."""
    placed: Any = [says if len(says) <= LONGEST_SAID else f"{says[:LONGEST_SAID]}..."]
    for name in reversed(at):
        placed = {name: placed}
    return placed
