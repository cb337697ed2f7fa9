"""Dust, grease and parted layers: areas for the truth, and layers of the disc's flat grid for the picture.

Layers: `haze`, light that grease adds; `dim`, share that it takes; `milk`, light within the disc; `hole`, lost metal;
`tint`, (side, side, 3), what the mirror is multiplied by.
"""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.areas import HOLE_MM, Flat, Hair
from bench.other_light.chance import Rng, wander
from bench.other_light.optics import Array

from .damage import bent, points_on, spot_mm
from .view import noise


def specks(rng: Rng, rim_mm: float, count: int) -> list[tuple[Array, float]]:
    """Outlines (8, 2) of grains, with their opacity."""
    found = []
    for _ in range(count):
        size = float(np.clip(0.05 * np.exp(rng.normal(0, 0.6)), 0.02, 0.4))
        turn, lean = np.linspace(0, 2 * np.pi, 9)[:-1], rng.uniform(0, np.pi)
        grain = size * rng.uniform(0.5, 1.2, (8, 1)) * np.stack([np.cos(turn), rng.uniform(0.5, 1) * np.sin(turn)], 1)
        leant = grain @ np.array([[np.cos(lean), np.sin(lean)], [-np.sin(lean), np.cos(lean)]])
        found.append((spot_mm(rng, rim_mm, 8) + leant, rng.uniform(0.3, 0.95)))
    return found


def hairs(rng: Rng, rim_mm: float, count: int) -> list[Hair]:
    found = []
    for _ in range(count):
        long_mm = rng.uniform(1.5, 14)
        bend = 0.25 * wander(rng, points_on(long_mm), 5)
        path = bent(spot_mm(rng, rim_mm, 8), rng.uniform(0, 2 * np.pi), long_mm, bend)
        path = path[np.hypot(*path.T) < rim_mm - 0.15]
        if len(path) > 5:
            found.append(Hair(path, rng.uniform(0.012, 0.045), 0.8))
    return found


def _greased(flat: Flat, rng: Rng, grease: Array, style: str, mask: Array, power: float) -> None:
    flat.lay("haze", grease * rng.uniform(0.15, 0.75))
    flat.lay("dim", grease * rng.uniform(0.4, 1))
    flat.tell("smudge", style, mask, power)


def fingerprint(rng: Rng, flat: Flat) -> None:
    half_wide, half_long = rng.uniform([6, 8], [10, 13])
    x, y = flat.turned(spot_mm(rng, flat.rim_mm, 14), rng.uniform(0, np.pi))
    on_disc = flat.on_disc(HOLE_MM, flat.rim_mm)
    core, pull, period = rng.uniform([-2, 0.3, 0.4], [2, 1, 0.6])
    loop = np.hypot(x * 1.1, np.where(y > core, y - core, (y - core) * pull))
    ridges = 0.5 + 0.5 * np.sin(2 * np.pi * (loop + 0.25 * noise(rng, x.shape, 30, 2)) / period)
    off = (x / half_wide) ** 2 + (y / half_long) ** 2 + 0.2 * noise(rng, x.shape, 40, 2)
    patch = np.clip((1 - off) * 3, 0, 1) * np.clip(0.65 + 0.4 * noise(rng, x.shape, 25, 3), 0, 1)
    power = rng.uniform(0.1, 0.5)
    grease = patch * (0.25 + 0.75 * ridges**1.5) * power * on_disc
    _greased(flat, rng, grease, "fingerprint", (off < 0.92) & on_disc, power)


def wiped(rng: Rng, flat: Flat) -> None:
    """Grease in stripes, bowed."""
    half_long, half_wide = rng.uniform([5, 3], [20, 12])
    x, y = flat.turned(spot_mm(rng, flat.rim_mm), rng.uniform(0, np.pi))
    on_disc = flat.on_disc(HOLE_MM, flat.rim_mm)
    y = y + rng.normal(0, 0.01) * x**2
    stripes = wander(rng, 400, int(rng.uniform(70, 260)))
    stripe = np.clip(0.5 + stripes / 2.5, 0, 1)[np.clip(y * 8 + 200, 0, 399).astype(int)]
    off = (x / half_long) ** 2 + (y / half_wide) ** 2 + 0.25 * noise(rng, x.shape, 60, 2)
    power = rng.uniform(0.08, 0.4)
    _greased(flat, rng, np.clip((1 - off) * 2, 0, 1) * stripe * on_disc * power, "wiped", (off < 0.9) & on_disc, power)


def _inside_mm(rng: Rng, flat: Flat, from_edge: bool, warp: Array) -> Array:
    """How deep (side, side) each cell lies in a patch that grows from the rim, from the hub, or about a spot."""
    if not from_edge:
        size = rng.uniform(2, 11)
        x, y = flat.turned(spot_mm(rng, flat.rim_mm, 26), 0)
        return np.asarray(size * (1 + 0.25 * warp) - np.hypot(x, y))
    x, y = flat.turned(np.zeros(2), rng.uniform(0, 2 * np.pi))
    reach = rng.uniform(4, 16) * np.exp(-((np.arctan2(y, x) / rng.uniform(0.2, 1.6)) ** 2))
    radius = np.hypot(x, y)
    depth = flat.rim_mm - radius if rng.random() < 0.7 else radius - 20
    return np.asarray(reach + 2 * warp * (reach > 0.5) - depth)


def parted(rng: Rng, flat: Flat) -> None:
    """Layers that came apart, or metal that is lost."""
    style = str(rng.choice(["milky", "stain", "lost", "fringes", "pinholes"]))
    on_disc = flat.on_disc(HOLE_MM, flat.rim_mm)
    warp = noise(rng, on_disc.shape, 120, 4)
    inside_mm = _inside_mm(rng, flat, style != "pinholes" and rng.random() < 0.65, warp)
    soft = np.clip(inside_mm / rng.uniform(0.3, 2.0) + 0.5, 0, 1) * on_disc
    sharp = np.clip(inside_mm * 4 + 0.5, 0, 1) * on_disc
    mask = (inside_mm > 0) & on_disc
    if style == "pinholes" and mask.any():
        holes = np.zeros(mask.shape, np.uint8)
        for row, column in np.argwhere(mask)[rng.integers(0, mask.sum(), rng.integers(15, 120))].tolist():
            cv2.circle(holes, (column, row), int(rng.integers(1, 5)), (255,), -1, cv2.LINE_AA)
        flat.lay("hole", holes / np.float32(255))
    elif style == "milky":
        flat.lay("milk", soft * rng.uniform(0.15, 0.5))
        _tinted(flat, soft * rng.uniform(0.3, 0.8), np.zeros(3))
    elif style == "stain":
        border = 0.4 * np.exp(-((inside_mm / rng.uniform(0.5, 2)) ** 2)) * on_disc
        colour = np.array([0.75, 0.48, 0.25]) * rng.uniform(0.4, 1.0)
        _tinted(flat, np.clip(soft * rng.uniform(0.4, 0.95) + border, 0, 1), colour)
    elif style == "lost":
        flat.lay("hole", sharp * rng.uniform(0.7, 1))
    elif style == "fringes":  # of thin air: cos(4 pi gap / wavelength), for red, green and blue
        gap_um = (inside_mm.clip(0) * rng.uniform(0.15, 0.5) + 0.12 * np.abs(warp))[..., None]
        fringes = 1 + 0.5 * np.cos(4 * np.pi * gap_um / np.array([0.61, 0.54, 0.45])) * np.exp(-gap_um / 2.5)
        _tinted(flat, sharp * rng.uniform(0.3, 0.7), fringes)
        flat.lay("milk", soft * rng.uniform(0.03, 0.15))
    flat.tell("delamination", style, mask, 1.0)


def _tinted(flat: Flat, share: Array, colour: Array) -> None:
    tint = flat.layers.get("tint", np.ones((flat.side, flat.side, 3), np.float32))
    flat.layers["tint"] = (tint * (1 + share[..., None] * (colour - 1))).astype(np.float32)
