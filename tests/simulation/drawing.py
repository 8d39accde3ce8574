"""Draw the parts of a cook: each part a dataclass of floats, each field uniform within its range."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

import numpy as np

Ranges = Mapping[str, tuple[float, float]]
Changes = Mapping[str, Ranges]

NEVER = (0.0, 0.0)
ALWAYS = (1.0, 1.0)


def drawn_parts(
    parts: Mapping[str, type], usual: Changes, changes: Changes, rng: np.random.Generator
) -> dict[str, Any]:
    """Every part by its name; each has a stream of its own, so that the parts a kind leaves alone are the same in all kinds."""
    drawn = {}
    for (name, part), stream in zip(parts.items(), rng.spawn(len(parts)), strict=True):
        ranges = {**usual[name], **changes.get(name, {})}
        drawn[name] = part(**{field.name: float(stream.uniform(*ranges[field.name])) for field in fields(part)})
    return drawn
