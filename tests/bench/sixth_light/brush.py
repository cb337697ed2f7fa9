"""Shapes filled on pictures, with soft borders."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.optics import Array


def fill(picture: Array, outline: Array, paint: Array, shadow: float = 0.0, way: float = 0.0) -> None:
    """Lays a shape over (height, width, n); `shadow` cells long towards `way`, if it is thick.

    Args:
        outline: (points, 2), in cells.
    """
    reach = int(3 * shadow) + 2
    low = np.floor(outline.min(0) - reach).astype(int).clip(0)
    high = np.minimum(np.ceil(outline.max(0) + reach).astype(int) + 1, picture.shape[1::-1])
    if (high <= low).any():
        return
    part = picture[low[1] : high[1], low[0] : high[0]]
    cover = np.zeros(part.shape[:2], np.uint8)
    cv2.fillPoly(cover, [np.round((outline - low) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    if shadow > 0.5:
        move = shadow * np.array([np.cos(way), np.sin(way)])
        moved = cv2.warpAffine(cover, np.array([[1, 0, move[0]], [0, 1, move[1]]]), cover.shape[::-1])
        part *= 1 - 0.55 / 255 * cv2.blur(moved, (max(1, int(1.3 * shadow)),) * 2).astype(np.float32)[..., None]
    part += cover.astype(np.float32)[..., None] / 255 * (paint.astype(np.float32) - part)
