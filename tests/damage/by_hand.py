"""Maps made by hand: what the damage net would say of shapes whose millimetres are known."""

from __future__ import annotations

import cv2
import numpy as np

from discscan.grids import FloatImage

SURE = 0.9


def with_shapes(
    said: FloatImage, *shapes: np.ndarray, px_per_mm: float, width_mm: float = 0.0, level: float = SURE
) -> FloatImage:
    """A map with lines of some width, and filled borders (width 0), (n, 2) in mm from the disc's centre."""
    side, drawn = len(said), said.copy()
    for shape in shapes:
        at = np.round((shape * px_per_mm + side / 2 - 0.25) * 16).astype(np.int32)
        mask = np.zeros((side, side), np.uint8)
        if width_mm:
            cv2.polylines(mask, [at], False, 1, max(1, round(width_mm * px_per_mm)), cv2.LINE_8, 4)
        else:
            cv2.fillPoly(mask, [at], 1, cv2.LINE_8, 4)
        drawn[mask > 0] = level
    return np.maximum(drawn, cv2.GaussianBlur(drawn, (0, 0), 0.6))
