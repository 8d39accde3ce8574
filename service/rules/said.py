"""What a rule says when it fires."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A sentence, and the numbers behind it: what was measured, what it was held against, and the unit of both."""

    says: str
    value: float | None = None
    limit: float | None = None
    unit: str | None = None
