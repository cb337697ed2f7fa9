"""Layers that part: a milky bond, Newton's fringes of the gap, stains that creep in from the rim, lost metal."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.areas import FLAT_PX_MM, Flat
from bench.other_light.chance import Rng, log_uniform, ramp
from bench.other_light.optics import Array

from .grime import noise

STYLES = ("milky", "fringes", "stain", "lost")


def part(rng: Rng, flat: Flat, style: str) -> None:
    """One place where layers parted: a front that creeps in from the rim, or an island in the data."""
    x, y = flat.mm()
    radius = np.hypot(x, y)
    turn = rng.uniform(0, 2 * np.pi)
    if style == "stain" or rng.random() < 0.6:
        bent = np.cos(np.arctan2(y, x) - turn)
        half = np.deg2rad(log_uniform(rng, 8, 70))
        front = log_uniform(rng, 2.5, 15) * (1 - (1 - bent) / (1 - np.cos(half)))
        inside = front * (1 + 0.35 * noise(rng, flat, log_uniform(rng, 2, 10), 4)) - (flat.rim_mm - 1.0 - radius)
    else:
        far, size = rng.uniform(26, flat.rim_mm - 6), log_uniform(rng, 1.6, 8)
        off = np.hypot(x - far * np.cos(turn), y - far * np.sin(turn))
        inside = size * (1 + 0.45 * noise(rng, flat, size, 4)) - off
    mask = _largest((inside > 0) & flat.on_disc(21, flat.rim_mm - 0.9))
    if not mask.any():
        return
    deep = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 3) / FLAT_PX_MM
    strength = float(rng.uniform(0.45, 1))
    if style == "fringes":
        gap = 0.2 + rng.uniform(0.2, 0.9) * np.sqrt(deep) * (1 + 0.2 * noise(rng, flat, 4, 2))
        flat.lay("gap_um", gap * mask)
        flat.lay("fringes", strength * ramp(0, 0.2, deep) * mask)
    else:
        soft = {"milky": rng.uniform(0.2, 2), "stain": rng.uniform(0.5, 4), "lost": 0.15}[style]
        grain = (0.85 + 0.2 * noise(rng, flat, rng.uniform(0.4, 3), 4)).clip(0.15, 1)
        body = np.ones_like(grain) if style == "lost" else grain
        flat.lay(style, strength * ramp(0, float(soft), deep) * body * mask)
    flat.tell("delamination", style, mask, strength)


def _largest(mask: Array) -> Array:
    """The largest piece of a mask; it alone gets an outline."""
    count, pieces, sizes, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    return np.asarray(pieces == 1 + int(np.argmax(sizes[1:, cv2.CC_STAT_AREA]))) if count > 1 else mask


def fringe_colours(gap_um: Array) -> Array:
    """What an air gap of this height sends back of red, green and blue, from 0 to 1: (1 - cos(4 pi g / lambda)) / 2,
    washed out as the gap grows beyond the light's coherence (thin films, textbook), (..., 3)."""
    phase = 4 * np.pi * gap_um[..., None] / np.array([0.60, 0.54, 0.46], np.float32)
    return np.asarray(0.5 - 0.5 * np.cos(phase) * np.exp(-((gap_um[..., None] / 1.6) ** 2)))
