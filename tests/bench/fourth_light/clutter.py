"""Other things on a table: cases, papers, coins, pens, cables; none of them a disc."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.chance import Rng, colour, wander
from bench.other_light.optics import Array


def strewn(rng: Rng, albedo: Array, per_mm: float, rim_mm: float) -> None:
    """Paints some into a table's albedo (side, side, 3), the disc's place being its middle."""
    for _ in range(int(rng.integers(1, 7))):
        turn, far = rng.uniform(0, 2 * np.pi), rim_mm + rng.uniform(-25, 120)
        middle = (np.array([np.cos(turn), np.sin(turn)]) * far) * per_mm + len(albedo) / 2
        (_box, _coin, _pen, _cable)[int(rng.choice(4, p=[0.55, 0.15, 0.15, 0.15]))](rng, albedo, per_mm, middle)


def _filled(albedo: Array, outline: Array, hue: Array, per_mm: float) -> Array:
    """Fills an outline over its soft shadow; returns the mask."""
    mask = np.zeros(albedo.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(outline).astype(np.int32)], 255, cv2.LINE_AA)
    soft = cv2.GaussianBlur(np.roll(mask, (int(2 * per_mm), int(1.2 * per_mm)), (0, 1)), (0, 0), 2.5 * per_mm)
    albedo *= (1 - 0.55 * soft / np.float32(255))[..., None]
    share = (mask / np.float32(255))[..., None]
    albedo[:] = albedo * (1 - share) + hue.astype(np.float32) * share
    return mask > 127


def rectangle(middle: Array, half: Array, lie: float) -> Array:
    """Corners (4, 2), turned by `lie` radians."""
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    return np.asarray(corners @ np.array([[np.cos(lie), np.sin(lie)], [-np.sin(lie), np.cos(lie)]]) + middle)


def _box(rng: Rng, albedo: Array, per_mm: float, middle: Array) -> None:
    """A case, a book, a leaflet: a coloured field with blocks and lines of made-up print."""
    half = np.array([rng.uniform(25, 75), rng.uniform(35, 100)]) / 2 * per_mm * 1.3
    lie = rng.uniform(0, np.pi)
    mask = _filled(albedo, rectangle(middle, half, lie), colour(rng, 0.02, 0.8, 0.35), per_mm)
    way = np.array([np.cos(lie), np.sin(lie)])
    for number in range(int(rng.integers(0, 9))):
        at = middle + np.array([-way[1], way[0]]) * half[1] * (number / 5 - 0.8)
        piece = np.zeros(albedo.shape[:2], np.uint8)
        size = np.array([rng.uniform(0.2, 0.85) * half[0], rng.uniform(0.6, 4) * per_mm])
        cv2.fillPoly(piece, [np.round(rectangle(at, size, lie)).astype(np.int32)], 255)
        albedo[(piece > 0) & mask] = colour(rng, 0.02, 0.9, 0.4)


def _coin(rng: Rng, albedo: Array, per_mm: float, middle: Array) -> None:
    angle, radius = np.linspace(0, 2 * np.pi, 60), rng.uniform(8, 13) * per_mm
    ring = np.stack([np.cos(angle), np.sin(angle)], 1)
    hue = np.array([0.5, 0.42, 0.3]) * rng.uniform(0.5, 1.3)
    _filled(albedo, middle + radius * ring, hue, per_mm)
    mask = _filled(albedo, middle + 0.85 * radius * ring, hue * 0.8, per_mm * 0.2)
    albedo[mask] *= np.exp(0.2 * rng.standard_normal((int(mask.sum()), 1))).astype(np.float32)


def _pen(rng: Rng, albedo: Array, per_mm: float, middle: Array) -> None:
    lie, half = rng.uniform(0, np.pi), np.array([65.0, rng.uniform(3.5, 5)]) * per_mm
    hue = colour(rng, 0.02, 0.8, 0.7)
    _filled(albedo, rectangle(middle, half, lie), hue, per_mm)
    _filled(albedo, rectangle(middle, half * [1, 0.25], lie), (hue * 1.6).clip(0, 1), per_mm * 0.1)


def _cable(rng: Rng, albedo: Array, per_mm: float, middle: Array) -> None:
    count = 200
    way = rng.uniform(0, 2 * np.pi) + np.cumsum(0.05 * wander(rng, count, 12))
    path = middle + np.cumsum(np.stack([np.cos(way), np.sin(way)], 1), 0) * 1.2 * per_mm
    hue, wide = colour(rng, 0.02, 0.8, 0.1).tolist(), max(1, round(rng.uniform(2, 5) * per_mm))
    cv2.polylines(albedo, [np.round(path).astype(np.int32)], False, hue, wide)
