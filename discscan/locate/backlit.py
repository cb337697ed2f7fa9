"""A disc held against a lamp that burns out all that is clear: what is left to see is its mirror, a dark ring."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.locate.conics import apply, ellipse_from_box, to_unit_circle
from discscan.locate.find import located
from discscan.locate.pose import Pose, fit_circles
from discscan.records import ByteImage, Ellipse, FloatArray, LocatedDisc

_SIDE_PX = 1600
"""Of the picture in which the ring's edges are followed."""
_STEPS = 3


def locate_against_lamp(bgr: ByteImage) -> LocatedDisc | None:
    """The disc by both edges of its mirror; None where no dark ring lies before a bright ground.

    The mirror's outer edge is held to lie `mirror_ends_mm` inside the rim. Where its inner edge lies differs from disc
    to disc; that both are circles about one centre gives the pose all the same.

    Args:
        bgr: uint8 (h, w, 3), an upright photograph.
    """
    scale = min(1.0, _SIDE_PX / max(bgr.shape[:2]))
    small = cv2.resize(bgr, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    grey = cv2.GaussianBlur(cv2.cvtColor(small, cv2.COLOR_BGR2GRAY), (0, 0), 1.0)
    _, dark = cv2.threshold(grey, 0, 255, cv2.THRESH_BINARY_INV | cv2.THRESH_OTSU)
    contours, family = cv2.findContours(dark, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    rings: dict[int, list[NDArray[np.int32]]] = {}
    for contour, (_, _, _, parent) in zip(contours, [] if family is None else family[0], strict=True):
        if parent >= 0:
            rings.setdefault(int(parent), []).append(np.asarray(contour, np.int32))
    if not rings:
        return None
    outer = max(rings, key=lambda k: cv2.contourArea(contours[k]) - sum(map(cv2.contourArea, rings[k])))
    inner = max(rings[outer], key=cv2.contourArea)
    edges = [_points(edge, scale) for edge in (contours[outer], inner)]
    if min(map(len, edges)) < setting("locate", "least_ring_px"):
        return None
    fitted = _fitted(*edges)
    found = None if fitted is None else located(*fitted)
    return found if isinstance(found, LocatedDisc) else None


def _points(contour: NDArray[Any], scale: float) -> FloatArray:
    """Middles of a contour's cells in photo pixels: pixel centres lie at whole coordinates in both pictures."""
    return np.asarray((contour[:, 0] + 0.5) / scale - 0.5, np.float64)


def _fitted(outer: FloatArray, inner: FloatArray) -> tuple[Pose, int, Ellipse] | None:
    (cx, cy), (width, height), angle_deg = cv2.fitEllipseDirect(outer.astype(np.float32))
    rim = ellipse_from_box(((cx, cy), (width, height), angle_deg))
    to_unit = to_unit_circle(rim)
    middle = apply(to_unit, inner)
    share = float(np.median(np.hypot(*(middle - middle.mean(axis=0)).T)))
    diameter = 120 if share < setting("locate", "small_disc_share") else 80
    outer_mm = diameter / 2 - setting("locate", "mirror_ends_mm")
    homography = np.diag([outer_mm, outer_mm, 1.0]) @ to_unit
    points = np.concatenate([outer, inner])
    residual = np.full(len(points), np.inf)
    for _ in range(_STEPS):
        inner_mm = float(np.median(np.hypot(*apply(homography, inner).T)))
        radii = np.repeat([outer_mm, inner_mm], [len(outer), len(inner)])
        homography, residual = fit_circles(points, radii, homography)
    on_circle = np.abs(residual) < setting("locate", "fit_stray_mm")
    seen = float(on_circle[: len(outer)].mean()), float(on_circle[len(outer) :].mean())
    if min(seen) < setting("locate", "least_ring_seen"):
        return None
    sigma_mm = float(1.4826 * np.median(np.abs(residual[: len(outer)])))
    return Pose(homography, *seen, max(sigma_mm, setting("locate", "mirror_ends_sigma_mm"))), diameter, rim
