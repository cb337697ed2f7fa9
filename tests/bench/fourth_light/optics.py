"""What clear plastic, metal and track do to light: Fresnel, Snell, the grating equation, colours of wavelengths."""

from __future__ import annotations

import numpy as np
from bench.other_light.optics import PITCH_NM, Array

INDEX = 1.58
"""Polycarbonate in visible light (data sheets: 1.584 to 1.586)."""
LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)
"""ITU-R BT.709."""


def fresnel(cosine: Array) -> Array:
    """Unpolarised light that a face of plastic mirrors (Fresnel's equations)."""
    inside = np.sqrt(1 - (1 - cosine**2) / INDEX**2)
    across = (cosine - INDEX * inside) / (cosine + INDEX * inside)
    within = (inside - INDEX * cosine) / (inside + INDEX * cosine)
    return np.asarray((across**2 + within**2) / 2)


def twin_shift_mm(to_eye: Array, clear_mm: float) -> Array:
    """(n, 2): from a mark on the face to where its mirror image in the metal is seen, by Snell's law.

    The image hangs below the mark, so the sight line to it crosses the face nearer to the eye than the mark: it goes in
    there, down `clear_mm`, and up again to the mark, 2 clear tan(theta') along.
    """
    flat = to_eye[..., :2]
    sine = np.linalg.norm(flat, axis=-1, keepdims=True)
    within = sine / INDEX
    return np.asarray(2 * clear_mm * within / np.sqrt(1 - within**2) * flat / np.maximum(sine, 1e-9))


def order_shift(form: str, order: int, wavelength_nm: float) -> float:
    """By how much a track changes the light's direction cosine across it: the grating equation."""
    return order * wavelength_nm / PITCH_NM[form]


def colour_of(wavelength_nm: Array) -> Array:
    """(n, 3) linear sRGB of pure light, out of gamut cut; C. Wyman et al., JCGT 2 (2013) 2, the multi-lobe fit."""

    def lobe(peak: float, below: float, above: float) -> Array:
        off = wavelength_nm - peak
        return np.asarray(np.exp(-0.5 * (off * np.where(off < 0, below, above)) ** 2))

    x = 0.362 * lobe(442.0, 0.0624, 0.0374) + 1.056 * lobe(599.8, 0.0264, 0.0323) - 0.065 * lobe(501.1, 0.0490, 0.0382)
    y = 0.821 * lobe(568.8, 0.0213, 0.0247) + 0.286 * lobe(530.9, 0.0613, 0.0322)
    z = 1.217 * lobe(437.0, 0.0845, 0.0278) + 0.681 * lobe(459.0, 0.0385, 0.0725)
    to_srgb = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])
    return np.asarray((np.stack([x, y, z], -1) @ to_srgb.T).clip(0))


def rainbow(count: int) -> tuple[Array, Array]:
    """Wavelengths (count,) in nm, and their colours (count, 3), which are white in all: their sum is (1, 1, 1)."""
    wavelengths = np.linspace(410, 680, count)
    colours = colour_of(wavelengths)
    return wavelengths, colours / colours.sum(0)


def unit(vectors: Array) -> Array:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=-1, keepdims=True).clip(1e-9))


def mirrored(to_eye: Array, normals: Array) -> Array:
    """Whence the light comes that a mirror sends to the eye; unit vectors (..., 3)."""
    return np.asarray(2 * (to_eye * normals).sum(-1, keepdims=True) * normals - to_eye)
