"""Shares of a bag: kernels that did not pop, pieces that scorched, mass that was lost, and how far the corn expanded.

Model. The kernels in a bag are counted, or estimated as mass * share of corn / mass of a kernel. Expansion is the volume
of the popped corn over the mass that went in, fat and salt included.

Range. An estimated number of kernels is good to about a tenth, so a share of it is too; it says that it is estimated.

References. E. Karababa (2006), J. Food Eng. 72:100-107, for the mass of a kernel.
"""

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from service.outcomes.outcome import Outcome
from service.programs.programme import Programme, load


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A count out of the kernels of a bag; `of_is_estimated` where nobody counted these."""

    count: int
    of: int
    of_is_estimated: bool

    @property
    def value(self) -> float:
        return self.count / self.of


@cache
def outcome_numbers() -> Programme:
    """The numbers of this package, from the file beside it."""
    return load(files(__package__) / "outcomes.toml")


def kernels_in(outcome: Outcome, load_g: float | None) -> tuple[int, bool] | None:
    """How many kernels were in the bag, and whether that is an estimate; None where neither count nor mass is known."""
    if outcome.kernels_total:
        return outcome.kernels_total, False
    mass_g = outcome.grams_before or load_g
    if not mass_g:
        return None
    number = outcome_numbers().number
    return max(round(mass_g * number("corn_share") / number("kernel_mass_g")), 1), True


def unpopped(outcome: Outcome, load_g: float | None) -> Share | None:
    """Kernels left, of all; `load_g` is the mass printed on the bag, for a bag that nobody weighed (g)."""
    return _share(outcome.kernels_left, outcome, load_g)


def scorched(outcome: Outcome, load_g: float | None) -> Share | None:
    """Scorched pieces, of all kernels."""
    return _share(outcome.scorched_pieces, outcome, load_g)


def expansion_cm3_per_g(outcome: Outcome, load_g: float | None) -> float | None:
    """Volume of the popped corn over the mass that went in (cm3/g); None where one of them is not known."""
    mass_g = outcome.grams_before or load_g
    return outcome.volume_cm3 / mass_g if outcome.volume_cm3 is not None and mass_g else None


def mass_lost_share(outcome: Outcome) -> float | None:
    """Share of the mass that left the bag, as steam nearly all of it."""
    if outcome.grams_after is None or not outcome.grams_before:
        return None
    return 1.0 - outcome.grams_after / outcome.grams_before


def _share(count: int | None, outcome: Outcome, load_g: float | None) -> Share | None:
    kernels = kernels_in(outcome, load_g)
    if count is None or kernels is None:
        return None
    # An estimate may fall short of what was counted.
    return Share(count=count, of=max(kernels[0], count), of_is_estimated=kernels[1])
