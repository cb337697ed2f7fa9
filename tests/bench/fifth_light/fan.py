"""Colours that the track throws: each lamp's light by the grating equation, as densities over sines.

A lamp and the eye have sideways parts whose sum q tells what the track must bend. Along the track q must be nearly 0:
hence streaks that run outwards; across it, |q| = m lambda / d picks the colour. Pits of random lengths spread
a share of the light along the track, which makes of each streak a fan.
"""

from __future__ import annotations

import numpy as np
from bench.other_light.optics import Array

from .cards import Lamp
from .optics import rainbow

ORDERS = {"cd": (1, 2, 3), "dvd": (1, 2), "bd": (1,)}


def spread(along: Array, lamp: Array, pits: tuple[float, float, float]) -> Array:
    """Density along the track at q's part there, for a lamp's deviation and a track's `pits` (see `stock`)."""
    total = np.zeros_like(along)
    stray, narrow, far = pits
    for share, wide in ((1 - stray, narrow), (stray, far)):
        variance = lamp**2 + wide**2
        total += share * np.exp(-(along**2) / (2 * variance)) / np.sqrt(2 * np.pi * variance)
    return total


def fans(
    lamps: list[Lamp],
    points_mm: Array,
    sideways: Array,
    disc_format: str,
    efficiency: tuple[float, ...],
    pits: tuple[float, float, float],
    ragged: float,
) -> Array:
    """Radiance (h, w, 3) that a perfect metal's track would send to the eye, without the mirror's own.

    Args:
        points_mm, sideways: (h, w, 2), on the disc, and of the way to the eye.
        efficiency: of the orders 1, 2, ... on both sides.
        pits: as in `stock`.
        ragged: share of light that uneven grooves spread across the track, white.
    """
    outward = points_mm / np.linalg.norm(points_mm, axis=-1, keepdims=True).clip(1e-6)
    total = np.zeros((*points_mm.shape[:-1], 3), np.float32)
    for lamp in lamps:
        irradiance, to_lamp, wide = lamp.from_points(points_mm)
        q = sideways + to_lamp
        across = (q * outward).sum(-1)
        along = q[..., 1] * outward[..., 0] - q[..., 0] * outward[..., 1]
        near = spread(along, wide, pits) * irradiance
        bent = np.zeros_like(total)
        for order, share in zip(ORDERS[disc_format], efficiency, strict=False):
            bent += share * rainbow(across, disc_format, order, wide)
        bent += (ragged * np.exp(-np.abs(across) / 0.35) / 0.7)[..., None]
        total += near[..., None] * bent * lamp.radiance.astype(np.float32)
    return total
