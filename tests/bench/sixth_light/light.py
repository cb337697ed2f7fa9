"""Light at a disc, in sines: a direction is given by its part in the disc's plane, (..., 2), of length sin(theta).

A mirror turns its sign, a grating adds to it, a plane-parallel layer leaves it as it is.
"""

from __future__ import annotations

import numpy as np
from bench.other_light.optics import PITCH_NM, Array

INDEX = 1.55
"""Of the clear layer: 1.55 +- 0.10 (ECMA-267, 12.1)."""
BELLS_NM = ((600.0, 34.0), (535.0, 36.0), (460.0, 24.0))
"""Middle and width of what a camera's red, green and blue take in (about as published curves; no source)."""
SEEN_NM = (400.0, 690.0)


def face_share(cosine: Array) -> Array:
    """Share of unpolarised light that the plastic's face mirrors (Fresnel's equations; E. Hecht, Optics, 4.6)."""
    inside = np.sqrt(1 - (1 - cosine**2) / INDEX**2)
    s = (cosine - INDEX * inside) / (cosine + INDEX * inside)
    p = (INDEX * cosine - inside) / (INDEX * cosine + inside)
    return np.asarray((s**2 + p**2) / 2)


def depth_shift_mm(eye_sines: Array, depth_mm: float) -> Array:
    """Where on the face one sees what lies so deep below, less where it lies: t tan(theta'), towards the eye."""
    inside = eye_sines / INDEX  # Snell
    return np.asarray(depth_mm * inside / np.sqrt(1 - (inside**2).sum(-1, keepdims=True)))


def order_sines(mirror: Array, radial: Array, disc_format: str, order: int, wavelength_nm: float) -> Array:
    """Whence the light of an order comes: the grating equation d (sin i + sin d) = m lambda along the radius."""
    return np.asarray(mirror + np.float32(order * wavelength_nm / PITCH_NM[disc_format]) * radial)


def wavelengths_nm(disc_format: str, order: int, step: float) -> Array:
    """So many that two neighbours lie at most `step` apart in sine."""
    spread = abs(order) * (SEEN_NM[1] - SEEN_NM[0]) / PITCH_NM[disc_format]
    count = max(12, int(np.ceil(spread / step)))
    return np.asarray(SEEN_NM[0] + (np.arange(count) + 0.5) / count * (SEEN_NM[1] - SEEN_NM[0]))


def responses(wavelength_nm: Array) -> Array:
    """Of red, green and blue to each wavelength, (n, 3); each colour's sum is 1, so that white stays white."""
    bells = np.stack([np.exp(-(((wavelength_nm - middle) / wide) ** 2) / 2) for middle, wide in BELLS_NM], 1)
    bells[:, 0] += 0.1 * np.exp(-(((wavelength_nm - 430) / 18) ** 2) / 2)  # violet is seen as a little red, too
    return np.asarray(bells / bells.sum(0), np.float32)


def film_colours(gap_um: Array) -> Array:
    """What a thin gap of air mirrors, 0 to 1 of its most, (..., 3): (1 - cos(4 pi g / lambda)) / 2, dark at contact."""
    nm = np.linspace(*SEEN_NM, 36)
    table_um = np.linspace(0, 12, 2400)
    waves = (1 - np.cos(4 * np.pi * 1000 * table_um[:, None] / nm)) / 2
    colours = waves @ responses(nm)
    return np.stack([np.interp(gap_um, table_um, colours[:, part]) for part in range(3)], -1)
