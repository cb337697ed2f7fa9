"""What lies between the hole and the tracks: clear plastic, moulded rings, a mirror band, its text and bars."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.areas import HOLE_MM
from bench.other_light.chance import Rng
from bench.other_light.optics import Array

SCALE = 24
"""Cells per mm of the picture of text and bars."""


@dataclass(frozen=True)
class Hub:
    rings: list[tuple[float, float, float]]
    """Radius, width and steepness of moulded rings."""
    backing: Array | None
    """Colour of the print behind the clear part; none if one sees the table."""
    backing_mm: float
    """Print from here outwards."""
    text: Array
    """(rows, columns) of 0..1: text and bars, unrolled; columns go round the disc."""
    text_mm: tuple[float, float]


def _glyphs(rng: Rng, count: int, high: int) -> Array:
    """A row of made-up signs: strokes between corners of a small grid."""
    wide = max(3, int(high * 0.6))
    row = np.zeros((high, count * (wide + 3)), np.uint8)
    for number in range(count):
        if rng.random() < 0.12:
            continue
        corners = rng.integers(0, [3, 4], (int(rng.integers(3, 6)), 2)) * [(wide - 1) / 2, (high - 1) / 3]
        points = (corners + np.array([number * (wide + 3), 0])).astype(np.int32)
        cv2.polylines(row, [points], False, 255, max(1, high // 9), cv2.LINE_AA)
    return row / np.float32(255)


def random_hub(rng: Rng, form: str, recording: str, metal_from_mm: float) -> Hub:
    ring = rng.normal(17.2, 0.25) if form == "cd" else rng.normal(16.6, 0.5)  # the stacking ring (from memory)
    rings = [(ring, rng.uniform(0.25, 0.6), rng.uniform(0.3, 0.9)), (HOLE_MM + 0.35, 0.4, 0.8)]
    rings += [
        (rng.uniform(9, 20.5), rng.uniform(0.08, 0.3), rng.uniform(0.1, 0.5)) for _ in range(int(rng.integers(4)))
    ]
    rings.append((metal_from_mm, 0.12, 0.3))
    low = metal_from_mm + 0.25 if recording == "pressed" else rng.uniform(16.5, 19.5)
    text_mm = (low, low + rng.uniform(0.7, 1.3))
    high = int((text_mm[1] - text_mm[0]) * SCALE)
    around = int(2 * np.pi * low * SCALE)
    text = np.zeros((high, around), np.float32)
    at = int(rng.integers(around // 4))
    for _ in range(int(rng.integers(1, 4))):
        if rng.random() < 0.65:
            piece = _glyphs(rng, int(rng.integers(6, 22)), high)
        else:  # a bar code
            piece = np.repeat(rng.integers(0, 2, int(rng.integers(40, 90))), rng.integers(3, 6))[None, :]
            piece = np.repeat(piece, high, 0).astype(np.float32)
        piece = piece[:, : max(0, around - at)]
        text[:, at : at + piece.shape[1]] = piece
        at = min(around, at + piece.shape[1] + int(rng.integers(around // 3)))
    backing = rng.uniform(0.03, 0.9) * (1 + 0.3 * rng.uniform(-1, 1, 3)) if rng.random() < 0.45 else None
    return Hub(rings, backing, rng.uniform(9.5, 19), cv2.GaussianBlur(text, (0, 0), 0.7), text_mm)


def text_at(hub: Hub, x_mm: Array, y_mm: Array, radius_mm: Array) -> Array:
    """Text and bars (rows, columns) of 0..1, as seen from the data side."""
    high = hub.text_mm[1]
    rows = (high - radius_mm) * SCALE - 0.5
    turn = (np.arctan2(y_mm, x_mm) / (2 * np.pi)) % 1
    columns = turn * (hub.text.shape[1] - 1)
    drawn = cv2.remap(hub.text, columns.astype(np.float32), rows.astype(np.float32), cv2.INTER_LINEAR)
    return np.asarray(drawn)


def ring_slope(hub: Hub, radius_mm: Array) -> Array:
    """Slope outwards of the moulded face."""
    slope = np.zeros_like(radius_mm)
    for at, wide, steep in hub.rings:
        off = (radius_mm - at) / (wide / 2)
        slope -= steep * off * np.exp(0.5 - off**2 / 2) * 0.8
    return slope
