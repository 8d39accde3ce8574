"""The numbers of the calibration, from the file beside this one."""

from functools import cache
from importlib.resources import files

from service.programs.programme import Programme, load


@cache
def calibration_numbers() -> Programme:
    """What is taken for likely of an oven, and when a cook is a label for it. Read once in a process."""
    return load(files(__package__) / "calibration.toml")
