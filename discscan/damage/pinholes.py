"""A disc held against a lamp: where light comes through, the mirror is gone.

A hole shines as brightly as the lamp itself, unless it is finer than the photograph resolves: then its light is spread
over a few pixels, and its area follows from their sum. What is dim and wider than that is the room in the mirror.
"""

from __future__ import annotations

from dataclasses import replace
from math import log, sqrt
from statistics import NormalDist

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import constant, setting
from discscan.damage.areas import area_defect, border_of
from discscan.formats import data_area_mm
from discscan.grids import FloatImage, radius_mm
from discscan.records import Defect, FlatDisc, FloatArray, Sight

_TO_LIGHT = np.array([v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in np.arange(256) / 255])
"""From a level to light, 0..1: IEC 61966-2-1 (sRGB), from memory."""

_RING_MM = 2.0
_PARTS = 8
"""Of a level, in which what stands out is counted."""
_BLOCK_PX = 8 * sqrt(2)
"""The diagonal of a JPEG's block: so far from a bright spot it may show waves that are not there."""
_TURN = np.linspace(0, 2 * np.pi, 12, endpoint=False)


def pinholes(flat: FlatDisc) -> tuple[Defect, ...] | None:
    """Where light comes through the data area, the largest first; None where no lamp shines through the disc's hole.

    Args:
        flat: of a photograph of the disc held against a lamp. Where that is burnt out, holes seem larger than they are.
    """
    grey = np.asarray(cv2.cvtColor(flat.bgr, cv2.COLOR_BGR2GRAY), np.uint8)
    light = _TO_LIGHT[grey].astype(np.float32)
    radius = radius_mm(grey.shape[0], flat.px_per_mm)
    blur = _blur(flat)
    spot = _ellipse(5 * blur)  # all that the light of one point is spread over
    inner_mm, outer_mm = data_area_mm("unknown", flat.diameter_mm)
    outer_mm -= 5 * blur / flat.px_per_mm  # the clear edge shines, and the mirror may end with the data
    seen = (radius >= inner_mm) & (radius <= outer_mm) & (flat.sight != Sight.OUTSIDE_PHOTO)
    open_mm = constant("cd", "hole_mm").value / 2 - setting("damage", "hole_edge_mm")
    lamp = float(np.median(light[radius <= open_mm]))
    if not seen.any() or np.median(light[seen]) > setting("damage", "lamp_ground_share") * lamp:
        return None

    wide = np.asarray(cv2.morphologyEx(light, cv2.MORPH_OPEN, spot), np.float32)
    lost = seen & (wide >= lamp / 2)
    block = _ellipse(spot.shape[0] + 2 * _BLOCK_PX / flat.photo_px_per_mm * flat.px_per_mm)
    clear = seen & (cv2.dilate(lost.astype(np.uint8), block) == 0)
    over = _over_noise(grey, blur, radius, clear)
    points = clear & (over >= 1)
    share = np.where(clear, (light - wide) / np.maximum(lamp - wide, 1e-6), 0)
    share -= np.median(share[clear]) if clear.any() else 0
    share *= cv2.dilate(points.astype(np.uint8), spot) * clear
    found = [_patch(patch, flat) for patch in _pieces(lost)]
    near = cv2.dilate(points.astype(np.uint8), block) > 0  # so much hangs together: a spot and its waves
    found += [_point(point, np.asarray(share, np.float32), over, flat) for point in _pieces(near)]
    least_mm2 = np.pi / 4 * setting("damage", "least_pinhole_mm") ** 2
    found = [one for one in found if one.area_mm2 and one.area_mm2.value >= least_mm2]
    found.sort(key=lambda one: -(one.area_mm2.value if one.area_mm2 else 0))
    return tuple(found[: int(setting("damage", "most_areas"))])


def _blur(flat: FlatDisc) -> float:
    """Standard deviation of the photograph's blur, in cells of the grid, at least that of a sharp picture."""
    blur_px = setting("flatten", "sharp_blur_px") / max(flat.sharpness, 1e-3)
    return max(blur_px / flat.photo_px_per_mm * flat.px_per_mm, setting("flatten", "sharp_blur_px"))


def _ellipse(across: float) -> NDArray[np.uint8]:
    size = 2 * round(across / 2) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), np.uint8)


def _over_noise(grey: NDArray[np.uint8], blur: float, radius: FloatImage, clear: NDArray[np.bool_]) -> FloatImage:
    """How far each place stands out from around it, over what the noise of its ring reaches nowhere on the disc.

    Seen through the blur of a point, which is where a point stands out most from noise (matched filter). The largest of
    n normal figures is about sqrt(2 ln n) standard deviations (extreme values of a normal sample). How large those are
    is told by the hundredth part that stands out most, since a JPEG's noise has more of that; holes are fewer.
    """
    smooth = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), blur)
    stands = np.asarray(cv2.morphologyEx(smooth, cv2.MORPH_TOPHAT, _ellipse(5 * sqrt(2) * blur)), np.float32)
    at = (radius / _RING_MM).astype(int)
    rings, steps = int(at.max()) + 1, 256 * _PARTS
    counts = np.bincount(at[clear] * steps + (stands[clear] * _PARTS).astype(int), minlength=rings * steps)
    counts = counts.reshape(rings, steps)
    below = np.cumsum(counts, axis=1) / np.maximum(counts.sum(axis=1, keepdims=True), 1)
    middle, most = ((below < share).sum(axis=1) / _PARTS for share in (0.5, 0.99))
    sigma = np.maximum(most - middle, 0.5) / NormalDist().inv_cdf(0.99)  # an even picture has half a level's doubt
    floor = middle + sqrt(2 * log(2 + np.count_nonzero(clear))) * sigma
    return np.asarray(stands / floor[at], np.float32)


def _pieces(mask: NDArray[np.bool_]) -> list[tuple[slice, slice, NDArray[np.bool_]]]:
    """What hangs together: the box of each, and its cells in that box."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    boxes = [(slice(top, top + high), slice(left, left + wide)) for left, top, wide, high, _ in stats[1:].tolist()]
    return [(*box, labels[box] == number) for number, box in zip(range(1, count), boxes, strict=True)]


def _patch(piece: tuple[slice, slice, NDArray[np.bool_]], flat: FlatDisc) -> Defect:
    """A hole wide enough to show its border."""
    rows, columns, cells = piece
    contours, _ = cv2.findContours(cells.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    contour = np.asarray(max(contours, key=len)[:, 0] + [columns.start, rows.start], np.float64)
    count = int(cells.sum())
    border_mm = (border_of(contour, count) - flat.bgr.shape[0] / 2) / flat.px_per_mm
    return _hole(border_mm, count / flat.px_per_mm**2, over=np.inf)


def _point(
    piece: tuple[slice, slice, NDArray[np.bool_]], share: FloatImage, over: FloatImage, flat: FlatDisc
) -> Defect:
    """A hole finer than the photograph resolves: as large as the lamp's light that came through it."""
    rows, columns, cells = piece
    through = np.maximum(share[rows, columns] * cells, 0)
    area_mm2 = float((share[rows, columns] * cells).sum()) / flat.px_per_mm**2
    y, x = np.mgrid[rows, columns]
    middle = np.array([(through * x).sum(), (through * y).sum()]) / max(float(through.sum()), 1e-9)
    circle = np.sqrt(max(area_mm2, 0) / np.pi) * np.stack([np.cos(_TURN), np.sin(_TURN)], -1)
    border_mm = (middle - flat.bgr.shape[0] / 2) / flat.px_per_mm + circle
    return _hole(border_mm, area_mm2, over=float(over[rows, columns][cells].max()))


def _hole(border_mm: FloatArray, area_mm2: float, *, over: float) -> Defect:
    """At the floor it is noise as likely as a hole; well above it, sure but for another lamp's reflection."""
    confidence = setting("damage", "pinhole_sure") * (1 - 0.5**over)
    # On a CD the mirror lies right under the label, and what pierces it comes from there.
    return replace(area_defect("label_damage", border_mm, area_mm2, confidence=confidence), see_through=True)
