"""Light at a disc: Snell, Fresnel and the grating. Directions are unit vectors (n, 3), the disc's normal is z.

`sideways` is a direction's part in the disc's plane, (n, 2); it alone matters to a plane-parallel layer.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]

REFRACTIVE_INDEX = 1.585
"""Polycarbonate, visible light: 1.584 to 1.586 (data sheet of the plastic)."""
PITCH_NM = {"cd": 1600.0, "dvd": 740.0, "bd": 320.0}
"""ECMA-130 (from memory); ECMA-267, 10.6.2; white paper of BD-ROM, 6th edition, 13."""
CLEAR_MM = {"cd": 1.2, "dvd": 0.6, "bd": 0.1}
"""ECMA-130 (from memory); ECMA-267, figure 9; white paper of BD-ROM, 6th edition, 13."""
SEEN_NM = (405.0, 690.0)


def rgb(red: float, green: float, blue: float) -> Array:
    """Red, green and blue, (3,)."""
    return np.array([red, green, blue], np.float32)


def fresnel(cosine: Array) -> Array:
    """Share of unpolarised light that is reflected from air at the plastic (Fresnel's equations, textbook)."""
    cosine = np.clip(cosine, 0.02, 1)
    inside = np.sqrt(1 - (1 - cosine**2) / REFRACTIVE_INDEX**2)
    across = (cosine - REFRACTIVE_INDEX * inside) / (cosine + REFRACTIVE_INDEX * inside)
    along = (inside - REFRACTIVE_INDEX * cosine) / (inside + REFRACTIVE_INDEX * cosine)
    return np.asarray((across**2 + along**2) / 2)


def mirrored(to_eye: Array, normal: Array) -> Array:
    """The direction from which a mirror with this normal sends light to the eye."""
    return np.asarray(2 * (to_eye * normal).sum(1, keepdims=True) * normal - to_eye)


def refracted_in(to_eye: Array, normal: Array) -> Array:
    """The line of sight, on in the plastic below a surface with this normal (Snell's law as vectors)."""
    cosine, ratio = (to_eye * normal).sum(1, keepdims=True), 1 / REFRACTIVE_INDEX
    inside = np.sqrt(1 - ratio**2 * (1 - cosine**2))
    return np.asarray(-ratio * to_eye + (ratio * cosine - inside) * normal)


def refracted_out(upwards: Array, normal: Array) -> tuple[Array, Array]:
    """A direction in the plastic, on in the air above; and whether it gets there (False: total reflection)."""
    cosine = (upwards * normal).sum(1, keepdims=True)
    left = 1 - REFRACTIVE_INDEX**2 * (1 - cosine**2)
    leaves = (left[:, 0] > 0) & (cosine[:, 0] > 0)
    return REFRACTIVE_INDEX * upwards + (np.sqrt(np.maximum(left, 0)) - REFRACTIVE_INDEX * cosine) * normal, leaves


def layer_shift_mm(to_eye: Array, clear_mm: float) -> Array:
    """t tan(theta') towards the eye, (..., 2): how far from where it enters the line of sight meets the mirror.

    What lies on the surface shows a second time, in the mirror, twice as far away from itself.
    """
    inside = to_eye[..., :2] / REFRACTIVE_INDEX
    return np.asarray(clear_mm * inside / np.sqrt(1 - (inside**2).sum(-1, keepdims=True)))


def grating(sideways: Array, radial: Array, *, order: int, wavelength_nm: float, pitch_nm: float) -> Array:
    """Where the light of an order comes from that is seen along `-sideways`: d (sin i + sin d) = m lambda."""
    return np.asarray(sideways + np.float32(order * wavelength_nm / pitch_nm) * radial)


def wavelengths_nm(order: int, pitch_nm: float) -> Array:
    """Enough of them that the images of a lamp run together into one rainbow."""
    fan = abs(order) * (SEEN_NM[1] - SEEN_NM[0]) / pitch_nm
    return np.linspace(*SEEN_NM, int(np.clip(fan / 0.0125, 14, 40)))


def responses(wavelength_nm: Array) -> Array:
    """Of red, green, blue to each wavelength, (n, 3), each summing to 1: bells, about as a camera's are (no source)."""

    def bell(middle: float, width: float) -> Array:
        return np.asarray(np.exp(-(((wavelength_nm - middle) / width) ** 2) / 2))

    three = np.stack([bell(605, 38) + 0.12 * bell(430, 18), bell(540, 38), bell(455, 26)], 1)
    return np.asarray(three / three.sum(0), np.float32)
