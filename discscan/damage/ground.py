"""Which cells of the maps, at half the flat disc's scale, were not seen."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.records import FlatDisc, Sight

FloatImage = NDArray[np.float32]

SCALE = 0.5
"""Of the maps over the flat disc: 5 px per mm, about what a whole disc in a photograph of a few megapixels resolves."""


def hidden(flat: FlatDisc, *, radius_min_mm: float, radius_max_mm: float) -> NDArray[np.bool_]:
    """Cells of the half scale that were not seen, or lie beside such cells, or outside a ring."""
    side = round(flat.sight.shape[0] * SCALE)
    unseen = cv2.resize(flat.sight, (side, side), interpolation=cv2.INTER_NEAREST) != Sight.SEEN
    out = cv2.dilate(unseen.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    radius = radii_mm(side, flat.px_per_mm * SCALE)
    out |= (radius < radius_min_mm) | (radius > radius_max_mm)
    return out


@lru_cache(maxsize=4)
def radii_mm(side: int, px_per_mm: float) -> FloatImage:
    """Distance from the disc's centre. Shared: do not write to it."""
    along = (np.arange(side, dtype=np.float32) - side / 2) / px_per_mm
    radius: FloatImage = np.hypot(along[None, :], along[:, None])
    radius.flags.writeable = False
    return radius
