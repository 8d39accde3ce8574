"""The numbers of the audit, from the file beside this one."""

from functools import cache
from importlib.resources import files

from service.programs.programme import Programme, load


@cache
def audit_numbers() -> Programme:
    """What is taken for likely of an oven's control, and when a verdict is given. Read once in a process."""
    return load(files(__package__) / "audit.toml")
