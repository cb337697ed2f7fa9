"""Whether two photographs were taken in the same light from the same place: then the mirror shows the same room."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.formats import data_area_mm
from discscan.records import FlatDisc, FloatArray, Sight

_CELL_MM = 2.0


def light_agreement(first: FlatDisc, second: FlatDisc) -> float:
    """Correlation, -1 to 1, of what the two mirrors show in the large, unturned; 0 where they share no seen part.

    Each ring's mean is taken out, since the mirror itself is as bright all the way round.
    """
    (one, seen), (other, also_seen) = _coarse(first), _coarse(second)
    ring = _rings(len(one))
    inner, outer = data_area_mm("unknown", first.diameter_mm)
    shared = seen & also_seen & (ring >= inner / _CELL_MM) & (ring <= outer / _CELL_MM)
    if len(one) != len(other) or np.count_nonzero(shared) < 50:
        return 0.0
    rest = [_less_ring_means(image[shared], ring[shared]) for image in (one, other)]
    spread = float(np.sqrt((rest[0] ** 2).sum() * (rest[1] ** 2).sum()))
    return float((rest[0] * rest[1]).sum()) / spread if spread > 0 else 0.0


def _coarse(flat: FlatDisc) -> tuple[FloatArray, NDArray[np.bool_]]:
    side = round(flat.sight.shape[0] / flat.px_per_mm / _CELL_MM)
    grey = cv2.cvtColor(cv2.resize(flat.bgr, (side, side), interpolation=cv2.INTER_AREA), cv2.COLOR_BGR2GRAY)
    seen = cv2.resize((flat.sight == Sight.SEEN).astype(np.uint8) * 255, (side, side), interpolation=cv2.INTER_AREA)
    return np.asarray(grey, np.float64), np.asarray(seen > 200)


def _rings(side: int) -> NDArray[np.int64]:
    along = np.arange(side) + 0.5 - side / 2
    return np.asarray(np.hypot(along[None], along[:, None]), np.int64)


def _less_ring_means(values: FloatArray, ring: NDArray[np.int64]) -> FloatArray:
    count = np.maximum(np.bincount(ring), 1)
    return values - (np.bincount(ring, values) / count)[ring]
