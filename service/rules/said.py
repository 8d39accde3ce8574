"""What a rule says when it fires."""

from typing import NamedTuple


class Said(NamedTuple):
    """A sentence, and the numbers behind it: what was measured, what it was held against, and the unit of both."""

    says: str
    value: float | None = None
    limit: float | None = None
    unit: str | None = None
