"""The light of a groove's two walls: what they mirror, what they let through to the metal, what their tears scatter."""

from __future__ import annotations

import numpy as np
from bench.other_light.optics import Array

from .around import from_flat
from .ground import Ground
from .lines import Line, across
from .optics import INDEX, fresnel, mirrored, unit

FACETS = (0.2, 0.45, 0.7, 0.9, 1.1, 1.35, -0.35)
"""Slopes of a wall's pieces as shares of the wall's; the last is the lip's."""


def walls(rng: np.random.Generator, ground: Ground, line: Line, points_mm: Array, bare: Array) -> Array:
    """Light (2, n, 3) of the left and the right wall at points (n, 2) of a line, over the light `bare` (n, 3).

    A wall of slope s mirrors as a face that leans by s, and turns what passes by (n - 1) s (thin prism, textbook).
    """
    to_eye, straight = ground.rays(points_mm)
    left = across(points_mm)
    disc, around = ground.disc, ground.around
    radius = np.hypot(*points_mm.T)
    metal = ((radius > disc.metal_mm[0]) & (radius < disc.metal_mm[1]))[:, None]
    through = (1 - fresnel(to_eye[:, 2:])) ** 2
    white = around.falls / np.pi
    count = len(points_mm)
    rainbow = (bare - _mirrored_light(ground, straight, metal)).clip(0)
    light = np.zeros((2, count, 3))
    for side, sign in enumerate((1, -1)):
        for share in FACETS:
            uneven = np.exp(0.18 * rng.standard_normal((count, 1)))
            slope = sign * line.slope * share * (1 + sign * 0.5 * line.lean) * uneven
            lean = left * slope
            normals = unit(np.concatenate([lean, np.ones((count, 1))], 1))
            facing = (to_eye * normals).sum(1, keepdims=True).clip(0.02, 1)
            spread = np.full(count, 1.2 + 14 * line.rough)
            shine = around.spread(mirrored(to_eye, normals), spread) * fresnel(facing)
            deeper = from_flat(straight[:, :2] + (INDEX - 1) * lean)
            passed = around.spread(deeper, spread) * through * disc.metal * 0.85 + 0.5 * rainbow
            light[side] += shine + np.where(metal, passed, 0.8 * bare)
    light /= len(FACETS)
    return np.asarray(light * (1 - 0.85 * line.rough) + line.rough * 0.26 * white)


def _mirrored_light(ground: Ground, ways: Array, metal: Array) -> Array:
    """The room in the metal, roughly; what is brighter there is rainbow."""
    return np.asarray(ground.around.spread(ways, np.full(len(ways), 0.5)) * ground.disc.metal * metal)
