"""The rainbow of a circular track: the grating equation for every source at once."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import torch
from torch import Tensor

from models.training.render.geometry import FloatArray
from models.training.render.light import Light, Lobe, dot, unit
from models.training.render.room import Source

TABLE = 512
"""Samples of q = 0..2."""


def spectrum(wavelength_nm: FloatArray) -> FloatArray:
    """Linear sRGB (3, n) of a wavelength, per nm, so that an equal-energy spectrum sums to white (1, 1, 1).

    Multi-lobe fit of the CIE 1931 observer: Wyman, Sloan, Shirley, J. Computer Graphics Techniques 2 (2013) 1.
    """

    def lobe(centre: float, low: float, high: float) -> FloatArray:
        width = np.where(wavelength_nm < centre, low, high)
        return np.exp(-0.5 * ((wavelength_nm - centre) * width) ** 2)

    x = 0.362 * lobe(442.0, 0.0624, 0.0374) + 1.056 * lobe(599.8, 0.0264, 0.0323) - 0.065 * lobe(501.1, 0.0490, 0.0382)
    y = 0.821 * lobe(568.8, 0.0213, 0.0247) + 0.286 * lobe(530.9, 0.0613, 0.0322)
    z = 1.217 * lobe(437.0, 0.0845, 0.0278) + 0.681 * lobe(459.0, 0.0385, 0.0725)
    to_rgb = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])
    rgb = to_rgb @ np.stack([x, y, z])
    rgb = np.clip(rgb, 0, None) + 0.12 * np.clip(
        -rgb.min(0, keepdims=True), 0, None
    )  # out-of-gamut colours towards white
    return rgb / 90.0 * np.array([[0.90], [0.88], [0.95]])


def lit(source: Source, wavelength_nm: FloatArray) -> FloatArray:
    """`spectrum` in the light of a source (3, n), as strong and as white on the whole as in daylight: cameras adapt."""
    adapted = _whole("daylight") / _whole(source)
    return spectrum(wavelength_nm) * emitted(source, wavelength_nm) * adapted[:, None]


@cache
def _whole(source: Source) -> FloatArray:
    """What `spectrum` sums to in the light of a source, (3,)."""
    steps = np.arange(380.0, 781.0)
    return (spectrum(steps) * emitted(source, steps)).sum(1)


def emitted(source: Source, wavelength_nm: FloatArray) -> FloatArray:
    """Power of a source over the wavelength (n,), on a scale of its own.

    A bulb is Planck's black body; mercury's lines are NIST's, the bands of a tube's phosphors and a white LED's blue
    peak and broad yellow are from memory.
    """

    def peak(at_nm: float, sd_nm: float) -> FloatArray:
        return np.exp(-0.5 * ((wavelength_nm - at_nm) / sd_nm) ** 2)

    if source == "bulb":
        length_nm = np.maximum(wavelength_nm, 100)  # nothing is seen below, and at 0 there is nothing to reckon
        return (length_nm / 560) ** -5 / np.expm1(1.4388e7 / (length_nm * 2800))
    if source == "led":
        return peak(450, 10) + 0.8 * peak(560, 55)
    if source == "tube":
        lines = ((404.7, 0.2), (435.8, 0.6), (488, 0.35), (546.1, 1.2), (587, 0.35), (611, 1.2))
        return 0.03 + sum((share * peak(at, 3) for at, share in lines), np.zeros_like(wavelength_nm))
    return np.ones_like(wavelength_nm)


def grating_table(
    pitch_nm: float, spread: float, orders: tuple[float, ...], *, source: Source = "daylight", size: int = TABLE
) -> FloatArray:
    """Radiance density over q = |(light + eye) . radial| in 0..2 (3, size): all orders, d q = m lambda.

    Args:
        spread: angular radius of the light, blurs the colours.
        orders: share of the light in orders 1, 2, 3 ... (one side).
    """
    q = np.linspace(0, 2, size)
    table = np.zeros((3, size))
    for order, share in enumerate(orders, 1):
        table += share * pitch_nm / order * lit(source, pitch_nm * q / order)
    reach = max(spread, 0.004) * (size - 1) / 2
    steps = np.arange(-int(3 * reach) - 1, int(3 * reach) + 2)
    kernel = np.exp(-0.5 * (steps / reach) ** 2)
    kernel /= kernel.sum()
    padded = np.concatenate([table[:, ::-1], table, np.zeros((3, size))], 1)
    return np.stack([np.convolve(row, kernel, "same")[size : 2 * size] for row in padded])


def rainbow(
    light: Light,
    *,
    points: Tensor,
    eye: Tensor,
    radial: Tensor,
    along: Tensor,
    normal: Tensor,
    pitch_nm: float,
    orders: tuple[float, ...],
    track_noise_rad: float,
) -> Tensor:
    """Diffracted radiance (3, h, w).

    Light l is sent to the eye v where (l + v) has no part along the track (within the source's size) and
    d |(l + v) . radial| = m lambda: that picks the colour.
    """
    ceiling = Lobe(np.array([0.0, 0.0, 1600.0]), light.room.ceiling * 0.8, 0.35)
    total = torch.zeros_like(points)
    for lobe in [*light.lobes, ceiling]:
        colours = grating_table(pitch_nm, lobe.size_rad, orders, source=lobe.source)
        table = torch.tensor(colours, dtype=torch.float32, device=points.device)
        position, power = torch.tensor(
            np.stack([lobe.position_mm, lobe.power]), dtype=torch.float32, device=points.device
        )[..., None, None]
        toward = unit(position - points)
        half = toward + eye
        width = math.hypot(lobe.size_rad, track_noise_rad)
        place = (dot(half, radial).abs() * ((TABLE - 1) / 2)).clamp(0, TABLE - 2)
        low = place.long()
        colour = torch.lerp(table[:, low], table[:, low + 1], place - low)
        strength = torch.exp(-0.5 * (dot(half, along) / width) ** 2) / (width * math.sqrt(2 * math.pi))
        total += power * colour * (strength * dot(toward, normal).clamp(min=0))
    return total
