"""What a groove sends to the eye, as a rough surface whose facets lean to its sides.

A lamp shows where facets lean so that they mirror it to the eye (q = 2 m for a slope m), or so that a ray that they
bend on its way to the data layer's mirror comes from it (q = (n - 1) m); q is the sum of the sideways parts. The
radiance is gain E P(q / k) / k^2 with P the density of slopes: for k = 2 the microfacet law at small angles (Cook and
Torrance, textbook). What no lamp fills is the room's mean, as rough facets see it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bench.other_light.optics import Array

from .cards import Lamp
from .optics import INDEX


@dataclass(frozen=True)
class Walls:
    """Facets at samples: slopes to either side, of which deviation, and how matt; each (n,)."""

    slope: Array
    spread: Array
    matt: Array
    across: Array
    """(n, 2)"""


def density(q: Array, walls: Walls, scale: float, lamp: Array) -> Array:
    """P(q / k) / k^2 for both walls, with a lamp's own width; (n,)."""
    aside = (q * walls.across).sum(-1)
    along = q[..., 1] * walls.across[..., 0] - q[..., 0] * walls.across[..., 1]
    wide2 = (scale * walls.spread) ** 2 + lamp**2
    long2 = (scale * (0.025 + 0.25 * walls.matt)) ** 2 + lamp**2
    across = np.exp(-((np.abs(aside) - scale * walls.slope) ** 2) / (2 * wide2)) / 2
    return np.asarray(across * np.exp(-(along**2) / (2 * long2)) / (2 * np.pi * np.sqrt(wide2 * long2)))


def lit(
    points_mm: Array, sideways: Array, walls: Walls, lamps: list[Lamp], ambient: Array, metal: Array, face: Array
) -> Array:
    """Radiance (n, 3) of grooves that cover all of a pixel.

    Args:
        points_mm, sideways: (n, 2).
        ambient: (3,), the room's mean radiance.
        metal: (n, 3), what the layer below mirrors; face: (n,), what the plastic does.
    """
    total = ambient * (0.55 * metal + face[:, None]) * (1 - 0.5 * walls.matt[:, None])
    total = total + 0.6 * walls.matt[:, None] * (0.4 + 0.6 * metal) * ambient
    for lamp in lamps:
        irradiance, to_lamp, wide = lamp.from_points(points_mm)
        q = sideways + to_lamp
        by_face = face * density(q, walls, 2.0, wide)
        through = density(q, walls, INDEX - 1, wide)
        glint = by_face[:, None] + (1 - walls.matt[:, None]) * 0.8 * metal * through[:, None]
        torn = 0.35 / np.pi * walls.matt[:, None] * (0.3 + 0.7 * metal)
        total = total + (glint + torn) * irradiance[:, None] * lamp.radiance
    return np.asarray(total)
