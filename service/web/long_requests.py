"""Long requests: how the master of a worker hears that it is at work, and not stuck."""

from collections.abc import Callable
from typing import cast

from flask import request

STILL_HERE = "cookstop.still_here"
"""Where a worker leaves in the environment of a request what tells its master that it works on a long one."""


def still_here() -> Callable[[], None]:
    """What to call with each part of the request at hand; it does nothing where no master waits to hear."""
    return cast(Callable[[], None], request.environ.get(STILL_HERE, _nobody))


def _nobody() -> None:
    """Where no worker waits to hear from a long request."""
