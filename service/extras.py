"""Packages that only some commands need: installed as an extra, and asked for by name where one is missing."""

from importlib import import_module
from typing import Any


class MissingExtra(Exception):
    """A package that is not installed; the text says how to install it."""


def extra(module: str, name: str) -> Any:
    """The module, which comes with the extra `name`. Raises MissingExtra where it is not installed."""
    try:
        return import_module(module)
    except ImportError as error:
        needed = module.partition(".")[0]
        raise MissingExtra(f"this needs {needed}: pip install 'cookstop[{name}]'") from error
