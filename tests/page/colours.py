"""How far colours stand apart, for every kind of eye."""

import numpy as np
from numpy.typing import NDArray

Colour = NDArray[np.float64]

SIGHTS = {
    "usual": np.eye(3),
    # Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision deficiency", IEEE
    # Transactions on Visualization and Computer Graphics 15 (2009), severity 1.0; the figures are from memory.
    "without red": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "without green": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "without blue": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
# Linear sRGB to CIE XYZ, and its white (IEC 61966-2-1).
_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
_WHITE = _XYZ @ np.ones(3)


def linear(colour: str) -> Colour:
    """The linear parts of a colour such as #1f5fa0."""
    parts = np.array([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """The contrast of two colours as WCAG 2.2 defines it."""
    darker, lighter = sorted(float(_XYZ[1] @ linear(colour)) for colour in (one, other))
    return (lighter + 0.05) / (darker + 0.05)


def seen(colour: str, sight: str) -> Colour:
    """A colour as such an eye sees it, in CIELAB."""
    ratio = _XYZ @ np.clip(SIGHTS[sight] @ linear(colour), 0, 1) / _WHITE
    x, y, z = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16) / 116)
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


def difference(one: Colour, other: Colour) -> float:
    """The distance of two colours in CIELAB."""
    return float(np.linalg.norm(one - other))
