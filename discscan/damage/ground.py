"""Which cells of the maps, at half the flat disc's scale, were seen."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.records import FlatDisc, Sight

FloatImage = NDArray[np.float32]

SCALE = 0.5
"""Of the maps over the flat disc: 5 px per mm, about what a whole disc in a photograph of a few megapixels resolves."""


@dataclass(frozen=True)
class Ground:
    """What was seen of a disc: bool (side, side) at the half scale; cells beside unseen ones count as unseen."""

    seen: NDArray[np.bool_]
    px_per_mm: float

    def ring(self, inner_mm: float, outer_mm: float) -> NDArray[np.bool_]:
        """What was seen between two radii."""
        radius = radii_mm(self.seen.shape[0], self.px_per_mm)
        return self.seen & (radius >= inner_mm) & (radius <= outer_mm)


def ground_of(flat: FlatDisc) -> Ground:
    side = round(flat.sight.shape[0] * SCALE)
    unseen = cv2.resize(flat.sight, (side, side), interpolation=cv2.INTER_NEAREST) != Sight.SEEN
    beside = cv2.dilate(unseen.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    return Ground(~beside, flat.px_per_mm * SCALE)


@lru_cache(maxsize=4)
def radii_mm(side: int, px_per_mm: float) -> FloatImage:
    """Distance from the disc's centre. Shared: do not write to it."""
    along = (np.arange(side, dtype=np.float32) - side / 2) / px_per_mm
    radius: FloatImage = np.hypot(along[None, :], along[:, None])
    radius.flags.writeable = False
    return radius
