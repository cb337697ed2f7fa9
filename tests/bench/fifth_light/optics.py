"""Textbook optics of a disc: Snell, Fresnel, the mirror twin, the grating, and what a camera makes of a wavelength.

`sideways` is the part of a unit vector that lies in the disc's plane, (..., 2).
"""

from __future__ import annotations

import numpy as np
from bench.other_light.optics import PITCH_NM, Array

INDEX = 1.585
"""Polycarbonate in visible light (FACTS: data sheet, 1.584 to 1.586)."""

BELL_NM = np.array([[602, 33], [538, 33], [458, 24]], np.float32)
"""Middle and deviation of the red, green and blue of a camera as bells over the wavelength (common practice, no
source); a bell keeps its shape when a lamp's width smears it, so that no sum over wavelengths is needed."""


def top_face(cosine: Array) -> Array:
    """Share of unpolarised light that the plastic's face mirrors, by the cosine to its normal (Fresnel, textbook)."""
    cosine = np.clip(cosine, 1e-3, 1)
    inside = np.sqrt(1 - (1 - cosine**2) / INDEX**2)
    s = (cosine - INDEX * inside) / (cosine + INDEX * inside)
    p = (INDEX * cosine - inside) / (INDEX * cosine + inside)
    return np.asarray((s * s + p * p) / 2)


def slant(sideways: Array) -> Array:
    """tan of the angle in the plastic, as a vector (..., 2): sideways / n is what Snell leaves of it."""
    inside = sideways / INDEX
    return np.asarray(inside / np.sqrt(1 - (inside**2).sum(-1, keepdims=True)))


def twin_mm(sideways: Array, clear_mm: float) -> Array:
    """How far from what lies on the face its mirror image shows, towards the eye: 2 t tan(theta'), (..., 2)."""
    return 2 * clear_mm * slant(sideways)


def order_sine(disc_format: str, order: int, wavelength_nm: float) -> float:
    """sin(in) + sin(out) of an order: m lambda / d (the grating equation, E. Hecht, Optics)."""
    return order * wavelength_nm / PITCH_NM[disc_format]


def rainbow(sines: Array, disc_format: str, order: int, smear: Array | float) -> Array:
    """How densely an order's light lies about sin(in) + sin(out) across the track, (..., 3), as densities per sine.

    Args:
        sines: (...,), taken without their sign: order -m is order m from the other side.
        smear: deviation of the lamp's width, in sines.
    """
    per_nm = order / PITCH_NM[disc_format]
    middles, widths = BELL_NM[:, 0] * per_nm, np.sqrt((BELL_NM[:, 1] * per_nm) ** 2 + np.square(smear)[..., None])
    return np.asarray(np.exp(-(((np.abs(sines)[..., None] - middles) / widths) ** 2) / 2) / (2.5066 * widths))
