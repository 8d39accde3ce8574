"""When a reheat should have stopped: after its core is safe, before its edges are dry.

A stop is good from the moment at which the coldest part of the food reaches 74 degC (165 degF; FDA Food Code 3-403.11) to the
moment at which the food dries out: when, beyond what heating the core has cost, it has lost as much water as its edges can
spare, a share of the water in the outermost layers. Steam begins when some part of the food boils in earnest.
"""

from dataclasses import dataclass

SAFE_C = 74.0
BOILS_G_S = 0.02


@dataclass(slots=True, kw_only=True)
class Milestones:
    """What has happened so far in one reheat, in seconds on the cook clock; None: not yet."""

    spare_g: float
    steam_began_s: float | None = None
    safe_s: float | None = None
    dry_s: float | None = None
    _lost_when_safe_g: float = 0.0

    def note(self, at_s: float, coldest_c: float, boiled_g_s: float, lost_g: float) -> None:
        """Take note of one moment."""
        if self.steam_began_s is None and boiled_g_s >= BOILS_G_S:
            self.steam_began_s = at_s
        if self.safe_s is None and coldest_c >= SAFE_C:
            self.safe_s, self._lost_when_safe_g = at_s, lost_g
        if self.dry_s is None and self.safe_s is not None and lost_g >= self._lost_when_safe_g + self.spare_g:
            self.dry_s = at_s
