"""Work that workers of other processes do in the tests."""

import os
import signal
from pathlib import Path


def doubled(number: int) -> int:
    return 2 * number


def doubled_by_who_survives(given: tuple[int, str]) -> int:
    """The work of a process that dies over the first piece that it meets, once."""
    number, marker = given
    try:
        Path(marker).touch(exist_ok=False)
    except FileExistsError:
        return 2 * number
    os.kill(os.getpid(), signal.SIGKILL)
    return -1


def deadly(number: int) -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return number
