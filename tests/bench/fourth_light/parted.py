"""Layers that parted, reflectors that rust or are gone: creeping in from the rim, as patches, as specks."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.areas import FLAT_PX_MM, Flat
from bench.other_light.chance import Rng, blob_mm, cloud, log_uniform, ramp
from bench.other_light.optics import Array

STYLES = ("stain", "milky", "lost", "fringes", "corroded")


def _polar(flat: Flat) -> tuple[Array, Array]:
    x, y = flat.mm()
    return np.hypot(x, y), np.arctan2(y, x)


def _creeping(rng: Rng, flat: Flat, edge_mm: float) -> Array:
    """How deep (mm, positive inside) each cell lies in a region that grew inwards from the metal's edge."""
    radius, turn = _polar(flat)
    off = (turn - rng.uniform(0, 2 * np.pi) + np.pi) % (2 * np.pi) - np.pi
    half, depth = log_uniform(rng, 0.12, 1.3), log_uniform(rng, 2.5, 15)
    front = depth * np.exp(-((np.abs(off) / half) ** 3)) * (1 + 0.3 * np.sin(off * rng.uniform(3, 14)))
    ragged = log_uniform(rng, 0.15, 1.4) * cloud(rng, flat.side, flat.side, log_uniform(rng, 12, 60), 4)
    deep = front + ragged - (edge_mm - radius)
    return np.asarray(np.where(np.abs(off) < 2.2 * half, deep, -1.0))


def _patch(rng: Rng, flat: Flat, edge_mm: float) -> Array:
    """The same for a patch somewhere between hub and edge, sometimes dendritic."""
    place = rng.uniform(26, edge_mm - 5) * np.array([np.cos(turn := rng.uniform(0, 6.3)), np.sin(turn)])
    size, stretch, lie = log_uniform(rng, 1.8, 9), rng.uniform(0.5, 1), rng.uniform(0, np.pi)
    u, v = flat.turned(place, lie)
    ragged = log_uniform(rng, 0.1, 0.45) * size * cloud(rng, flat.side, flat.side, 2.5 * size * 4, 4)
    return np.asarray(size - np.hypot(u, v / stretch) + ragged)


def _largest(mask: Array) -> Array:
    count, pieces, sizes, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    if count < 2:
        return np.zeros_like(mask)
    return np.asarray(pieces == 1 + int(np.argmax(sizes[1:, cv2.CC_STAT_AREA])))


def _deep_mm(mask: Array) -> Array:
    return np.asarray(cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5) / FLAT_PX_MM)


def part(rng: Rng, flat: Flat, metal_mm: tuple[float, float], style: str) -> None:
    """One region of a style of STYLES, told as delamination and laid on the flat grid."""
    low, edge = metal_mm
    if style == "corroded":
        corrode(rng, flat, metal_mm)
        return
    grown = _creeping if style == "stain" or rng.random() < 0.5 else _patch
    mask = _largest((grown(rng, flat, edge) > 0) & flat.on_disc(low + 1, edge))
    if mask.sum() < 1.5 * FLAT_PX_MM**2:
        return
    deep, strength = _deep_mm(mask), rng.uniform(0.5, 1)
    clouded = cloud(rng, flat.side, flat.side, 25, 4)
    if style == "stain":
        flat.lay("stain", strength * ramp(0, rng.uniform(0.2, 2), deep) * (0.85 + 0.15 * clouded))
    elif style == "milky":
        flat.lay("frost", strength * ramp(0, rng.uniform(0.15, 1), deep) * (0.75 + 0.25 * clouded).clip(0.2))
        flat.lay("gap_um", mask * (0.4 + 0.5 * np.minimum(deep, 5)) * (rng.random() < 0.4))
    elif style == "lost":
        flat.lay("lost", mask * ramp(0, 0.12, deep) * ramp(-2.6, -1.9, clouded))
        flat.lay("frost", 0.5 * mask * ramp(1.2, 0.1, deep))
    else:
        gap = 0.15 + rng.uniform(0.12, 0.6) * np.minimum(deep, 9) * (1 + 0.12 * clouded)
        flat.lay("gap_um", mask * gap)
        flat.lay("frost", 0.12 * strength * mask)
    flat.tell("delamination", style, mask, strength)


def corrode(rng: Rng, flat: Flat, metal_mm: tuple[float, float]) -> None:
    """Dark specks in a bunch, each with a paler border; each is told."""
    low, edge = metal_mm
    radius, turn = rng.uniform(low + 4, edge - 2), rng.uniform(0, 2 * np.pi)
    middle = radius * np.array([np.cos(turn), np.sin(turn)])
    for _ in range(int(rng.integers(3, 14))):
        place = middle + rng.normal(0, 5, 2)
        if not low + 2 < float(np.hypot(*place)) < edge - 1.5:
            continue
        mask = flat.filled(blob_mm(rng, place, log_uniform(rng, 0.3, 1.6), 0.3))
        flat.lay("lost", mask * ramp(0, 0.15, _deep_mm(mask)))
        flat.lay("stain", 0.7 * cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 4))
        flat.tell("delamination", "corroded", mask, 1.0)
