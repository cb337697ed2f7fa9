"""Square grids over a disc's plane: where their cells lie, and in which of them lines can be looked for."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.records import FlatDisc, FloatArray, Sight

FloatImage = NDArray[np.float32]
Mask = NDArray[np.bool_]

SCALE = 0.5
"""Of the maps of lines over the flat disc: 5 px per mm, about what a whole disc in a photograph of a few megapixels
resolves."""


def seen_cells(flat: FlatDisc, *, burnt: bool = False) -> Mask:
    """Cells at `SCALE` of a flat disc that were seen and lie beside no other, bool (side / 2, side / 2).

    Args:
        burnt: with those that are burnt out: what lies there shows in part.
    """
    side = round(flat.sight.shape[0] * SCALE)
    sight = cv2.resize(flat.sight, (side, side), interpolation=cv2.INTER_NEAREST)
    seen = sight == int(Sight.SEEN)
    if burnt:
        seen |= sight == int(Sight.GLARE)
    return cv2.erode(seen.view(np.uint8), np.ones((5, 5), np.uint8)) > 0


def face_mm(diameter_mm: int) -> tuple[float, float]:
    """Radii between which a disc shows its face: from the edge of the hole to the bevel of the rim."""
    return setting("face", "innermost_mm"), diameter_mm / 2 - setting("face", "rim_margin_mm")


def mirror_mm(diameter_mm: int) -> tuple[float, float]:
    """Radii between which there is nothing but mirror, whatever the format, or the print over it."""
    return setting("damage", "mirror_inner_mm"), diameter_mm / 2 - setting("damage", "mirror_margin_mm")


@lru_cache(maxsize=16)
def ring(side: int, px_per_mm: float, *, inner_mm: float, outer_mm: float) -> Mask:
    """Cells between two radii, bool (side, side), the disc's centre at side / 2. Shared: not to be written to."""
    radius = radius_mm(side, px_per_mm)
    between: Mask = (radius >= inner_mm) & (radius <= outer_mm)
    between.flags.writeable = False
    return between


@lru_cache(maxsize=4)
def radius_mm(side: int, px_per_mm: float) -> FloatImage:
    """Distance of each cell from the disc's centre, float32 (side, side). Shared: not to be written to."""
    along = (np.arange(side, dtype=np.float32) - side / 2) / px_per_mm
    radius: FloatImage = np.hypot(along[None, :], along[:, None])
    radius.flags.writeable = False
    return radius


def holds(mask: Mask, points_mm: FloatArray, px_per_mm: float) -> Mask:
    """(n,) whether the cells of a grid in which points (n, 2) lie are in the mask, bool (side, side)."""
    column, row = np.clip(np.round(points_mm * px_per_mm + len(mask) / 2).astype(int), 0, len(mask) - 1).T
    return np.asarray(mask[row, column])
