"""What the answers so far in a cook have settled, and later answers keep."""

from __future__ import annotations

from typing import NamedTuple


class Settled(NamedTuple):
    """The part of the last decision that the next one must keep.

    ``as_of_ms`` is the moment of the last decision, ``stop_ms`` and ``stop_rule`` say when and by which rule the
    cook was stopped (both None while it was not), ``nudge_ms`` when a person was first told that the end is near.
    All times are milliseconds on the cook clock.
    """

    as_of_ms: int
    stop_ms: int | None
    stop_rule: str | None
    nudge_ms: int | None
