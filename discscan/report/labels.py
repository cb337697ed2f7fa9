"""The label image: every cell of the disc's top-down grid with the kind of damage that lies there."""

from __future__ import annotations

from collections.abc import Mapping

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.judged import JudgedDisc
from discscan.records import LINE_KINDS, ByteImage, Defect, FloatArray, Kind, Sight

PX_PER_MM = 10
NOTHING, NOT_MEASURED = 0, 255
LABELS: Mapping[Kind, int] = {
    "scratch": 1,
    "ring_arc": 2,
    "crack": 3,
    "delamination": 4,
    "smudge": 5,
    "dust": 6,
    "label_damage": 7,
}
_BOTTOM_FIRST: tuple[Kind, ...] = (
    "smudge", "dust", "label_damage", "delamination", "scratch", "ring_arc", "crack",
)  # fmt: skip
_SHIFT = 4
_FINER = 5  # a cell is drawn when its centre is covered: outlines are drawn so many times finer, then sampled there


def label_image(disc: JudgedDisc) -> ByteImage:
    """The disc's defects as labels; where several overlap, the gravest.

    Returns:
        uint8 (side, side), side 1240 for a 120 mm disc and 840 for an 80 mm one; column = 10 x_mm + side / 2 and
        row = 10 y_mm + side / 2. `LABELS`, NOTHING, or NOT_MEASURED where the disc was not seen.
    """
    side = PX_PER_MM * (disc.located.diameter_mm + 4)
    labels = np.full((side, side), NOTHING, np.uint8)
    for defect in sorted(disc.survey.defects, key=lambda one: _BOTTOM_FIRST.index(one.kind)):
        _draw(labels, defect)
    labels[_sight(disc, side) != Sight.SEEN] = NOT_MEASURED
    return labels


def _draw(labels: ByteImage, defect: Defect) -> None:
    half_side = labels.shape[0] / 2
    is_line = defect.kind in LINE_KINDS
    width_px = max(1.0, PX_PER_MM * defect.width_um.value / 1000) if is_line and defect.width_um else 1.0
    points = defect.outline_mm * PX_PER_MM + half_side
    low = np.floor(np.clip(points.min(axis=0) - width_px - 1, 0, labels.shape[0] - 1)).astype(int)
    high = np.ceil(np.clip(points.max(axis=0) + width_px + 2, 1, labels.shape[0])).astype(int)
    window = labels[low[1] : high[1], low[0] : high[0]]
    if not window.size:
        return
    value = LABELS[defect.kind]
    if width_px > 1 or not is_line:
        fine = np.zeros((window.shape[0] * _FINER, window.shape[1] * _FINER), np.uint8)
        at = _fixed((points - low) * _FINER + _FINER // 2)
        if is_line:
            thickness = max(1, round(width_px * _FINER) - 1)  # OpenCV paints one more
            cv2.polylines(fine, [at], False, 1, thickness, cv2.LINE_8, _SHIFT)
        else:
            cv2.fillPoly(fine, [at], 1, cv2.LINE_8, _SHIFT)
        window[fine[_FINER // 2 :: _FINER, _FINER // 2 :: _FINER] > 0] = value
    thin = np.zeros(window.shape, np.uint8)  # at least one pixel, however small
    cv2.polylines(thin, [_fixed(points - low)], False, 1, 1, cv2.LINE_8, _SHIFT)
    if is_line or not (window == value).any():
        window[thin > 0] = value


def _fixed(points: FloatArray) -> NDArray[np.int32]:
    return np.round(points * (1 << _SHIFT)).astype(np.int32)


def _sight(disc: JudgedDisc, side: int) -> ByteImage:
    """The map of `Sight` on the label grid, by the nearest cell; beyond its edge OFF_DISC."""
    given = disc.flat.sight
    places = (np.arange(side) - side / 2) / PX_PER_MM * disc.flat.px_per_mm + given.shape[0] / 2
    nearest = np.floor(places + 0.5).astype(int)
    inside = (nearest >= 0) & (nearest < given.shape[0])
    sight = np.full((side, side), Sight.OFF_DISC, np.uint8)
    sight[np.ix_(inside, inside)] = given[np.ix_(nearest[inside], nearest[inside])]
    return sight
