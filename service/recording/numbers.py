"""The numbers of the detector, each with unit, source and note in detector.toml."""

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from service.programs.programme import load


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbers:
    """See detector.toml; seconds (`_s`), decibels (`_db`), hertz (`_hz`), shares and counts."""

    band_low_hz: float
    band_high_hz: float
    filter_order: float
    hop_s: float
    smoothing_s: float
    floor_window_s: float
    floor_step_s: float
    floor_low_quantile: float
    floor_high_quantile: float
    scatter_least_db: float
    above_noise_db: float
    above_scatters: float
    rise_db: float
    rise_within_s: float
    rise_over_s: float
    dead_time_s: float
    dies_within_s: float
    dies_by_db: float
    repeats_periods: float
    repeats_within_db: float
    certainty_scale_db: float
    certainty_least: float


@cache
def shipped_numbers() -> Numbers:
    """The numbers that come with the service. Raises ProgrammeError or KeyError where the file is not whole."""
    return load(files(__package__) / "detector.toml").numbers(Numbers)
