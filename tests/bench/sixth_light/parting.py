"""Layers that part, and a reflector that goes: fronts that creep in from the rim or out from the hub."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.areas import FLAT_PX_MM, Flat
from bench.other_light.chance import Rng, cloud, log_uniform, ramp, spot_mm
from bench.other_light.optics import Array

STYLES = ("milky", "fringes", "lost", "stain")


def _front(rng: Rng, flat: Flat, inner_mm: float, outer_mm: float) -> Array:
    """Mask of what a front has reached: it goes fastest where it began, slower to its sides, and in tongues."""
    x, y = flat.mm()
    radius, turn = np.hypot(x, y), np.arctan2(y, x)
    from_rim = rng.random() < 0.7
    depth = outer_mm - radius if from_rim else radius - inner_mm
    reach = np.zeros_like(radius)
    middle = rng.uniform(0, 2 * np.pi)
    for _ in range(int(rng.integers(1, 5))):
        off = (turn - middle - rng.normal(0, 0.25) + np.pi) % (2 * np.pi) - np.pi
        reach = np.maximum(reach, log_uniform(rng, 4, 24) * np.exp(-((off / log_uniform(rng, 0.08, 0.8)) ** 2)))
    side = flat.side
    tongues = 1 + 0.4 * cloud(rng, side, side, log_uniform(rng, 15, 60), 4)
    return np.asarray((depth < reach * tongues - 0.25) & (depth > 0))


def _patch(rng: Rng, flat: Flat) -> Array:
    """Mask of a blister or of a hole somewhere inside."""
    at = spot_mm(rng, flat.rim_mm - 4)
    x, y = flat.turned(at, rng.uniform(0, np.pi))
    size = log_uniform(rng, 2.5, 11)
    rough = cloud(rng, flat.side, flat.side, max(6.0, 6 * size), 4)
    return np.asarray(np.hypot(x, y * rng.uniform(0.7, 1.6)) / size + 0.28 * rough < 1)


def _largest(mask: Array) -> Array:
    count, pieces, sizes, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    return np.asarray(pieces == 1 + int(np.argmax(sizes[1:, cv2.CC_STAT_AREA]))) if count > 1 else mask


def part(rng: Rng, flat: Flat, style: str, inner_mm: float, outer_mm: float) -> None:
    """Lays one of STYLES within the reflector, and tells it."""
    mask = _front(rng, flat, inner_mm, outer_mm) if rng.random() < 0.75 else _patch(rng, flat)
    mask = _largest(mask & flat.on_disc(inner_mm, outer_mm))
    if mask.sum() < 0.5 * FLAT_PX_MM**2:
        return
    side = flat.side
    deep = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5) / FLAT_PX_MM
    strength = rng.uniform(0.5, 1)
    grain = cloud(rng, side, side, log_uniform(rng, 3, 40), 4)
    if style == "fringes":
        gap = 0.08 + rng.uniform(0.06, 0.4) * deep**0.8 * (1 + 0.12 * cloud(rng, side, side, 40, 2))
        flat.lay("gap_um", gap * mask)
        flat.lay("fringes", strength * ramp(0, 0.12, deep) * mask)
    elif style == "lost":
        speckled = ramp(-1.6, -1.2, grain + 1.2 * ramp(0, 1.5, deep)) if rng.random() < 0.5 else 1.0
        flat.lay("lost", cv2.GaussianBlur((mask * speckled).astype(np.float32), (0, 0), 0.7))
    else:
        flat.lay(style, strength * (0.75 + 0.25 * grain).clip(0.1, 1) * ramp(0, rng.uniform(0.1, 1), deep) * mask)
    flat.tell("delamination", style, mask, strength)
