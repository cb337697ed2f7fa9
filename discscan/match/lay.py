"""One photograph's disc laid over another's: pictures, what was seen, and defects, in the first one's plane."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np

from discscan.match.turn import carried
from discscan.records import ByteImage, DamageSurvey, Defect, FlatDisc, FloatArray, Sight


def laid(flat: FlatDisc, matrix: FloatArray) -> FlatDisc:
    """The same disc moved within its plane; what comes from beyond the grid is off the disc.

    Args:
        matrix: (2, 3), mm to mm.
    """
    side = flat.sight.shape[0]
    turn, shift = matrix[:, :2], matrix[:, 2]
    middle = np.full(2, side / 2)
    cells = np.column_stack([turn, middle - turn @ middle + shift * flat.px_per_mm])
    bgr = cv2.warpAffine(flat.bgr, cells, (side, side), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    sight = cv2.warpAffine(
        flat.sight, cells, (side, side), flags=cv2.INTER_NEAREST, borderValue=float(Sight.OFF_DISC)
    )  # fmt: skip
    return replace(flat, bgr=np.asarray(bgr, np.uint8), sight=np.asarray(sight, np.uint8))


def laid_survey(survey: DamageSurvey, matrix: FloatArray) -> DamageSurvey:
    """The same defects moved within the plane."""
    return replace(survey, defects=tuple(laid_defect(defect, matrix) for defect in survey.defects))


def laid_defect(defect: Defect, matrix: FloatArray) -> Defect:
    """The same defect moved; its radii follow."""
    points = carried(defect.outline_mm, matrix)
    radius = np.hypot(*points.T)
    return replace(
        defect, outline_mm=points, radius_min_mm=float(radius.min()), radius_max_mm=float(radius.max())
    )  # fmt: skip


MIRROR = np.array([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
"""What is seen from one side, as it lies when seen from the other: left and right change places."""


def seen_by_any(flats: Sequence[FlatDisc]) -> tuple[ByteImage, ByteImage]:
    """Pictures that lie over one another as one: where the first was not seen, the next that was.

    Returns:
        bgr: uint8 (side, side, 3).
        sight: uint8 (side, side); `Sight.SEEN` where any has it, else the first one's.
    """
    bgr, sight = flats[0].bgr.copy(), flats[0].sight.copy()
    for other in flats[1:]:
        filled = (sight != Sight.SEEN) & (sight != Sight.OFF_DISC) & (other.sight == Sight.SEEN)
        bgr[filled] = other.bgr[filled]
        sight[filled] = Sight.SEEN
    return bgr, sight
