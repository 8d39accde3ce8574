"""The real service for devices to ask, and the tools that their tests need."""

import shutil
from collections.abc import Iterator

import pytest

from tests.device.pulled_out import micropython
from tests.device.serving import served


@pytest.fixture(scope="session")
def port() -> Iterator[int]:
    """Where the service answers."""
    with served() as at:
        yield at


@pytest.fixture(scope="session")
def interpreter() -> str:
    """MicroPython."""
    found = micropython()
    if found is None:
        pytest.skip("no micropython: install Debian's package, or run tests/device/fetch_micropython.sh")
    return found


@pytest.fixture(scope="session")
def curl() -> str:
    """The curl command."""
    found = shutil.which("curl")
    if found is None:
        pytest.skip("no curl: install Debian's package curl")
    return found
