"""A disc held against a lamp that burns out all that is clear: what is left to see is its mirror, a dark ring."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.locate.accept import located
from discscan.locate.conics import apply, ellipse_through, to_unit_circle
from discscan.locate.pose import Pose, fit_circles
from discscan.records import ByteImage, Ellipse, FloatArray, LocatedDisc

_SIDE_PX = 1600
"""Of the picture in which the ring's edges are followed."""
_RAYS = 720
_OUTWARDS = np.linspace(1.15, 4.0, 400)
"""Where the mirror's outer edge is looked for, in radii of its inner edge: it lies at 1.7 to 3.5 of them."""
_STEPS = 3


def locate_against_lamp(bgr: ByteImage) -> LocatedDisc | None:
    """The disc by both edges of its mirror; None where no dark ring lies before a bright ground.

    The mirror's outer edge is held to lie `mirror_ends_mm` inside the rim. Where its inner edge lies differs from disc
    to disc; that both are circles about one centre gives the pose all the same. Fingers may cover a part of the rim.

    Args:
        bgr: uint8 (h, w, 3), an upright photograph.
    """
    scale = min(1.0, _SIDE_PX / max(bgr.shape[:2]))
    small = cv2.resize(bgr, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    grey = cv2.GaussianBlur(cv2.cvtColor(small, cv2.COLOR_BGR2GRAY), (0, 0), 1.0)
    _, dark = cv2.threshold(grey, 0, 255, cv2.THRESH_BINARY_INV | cv2.THRESH_OTSU)
    contours, family = cv2.findContours(dark, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    islands = [one for one, kin in zip(contours, [] if family is None else family[0], strict=True) if kin[3] >= 0]
    inner = max(islands, key=cv2.contourArea, default=None)
    if inner is None or len(inner) < setting("locate", "least_ring_px"):
        return None
    edge = inner[:, 0].astype(np.float64)
    hub = ellipse_through(edge)
    outer = _outer_edge(np.asarray(dark, np.uint8), hub)
    if len(outer) < setting("locate", "least_ring_seen") * _RAYS:
        return None
    fitted = _fitted(_in_photo(outer, scale), _in_photo(edge, scale))
    found = None if fitted is None else located(*fitted)
    return found if isinstance(found, LocatedDisc) else None


def _outer_edge(dark: NDArray[np.uint8], hub: Ellipse) -> FloatArray:
    """Where rays from the hub leave the dark for the first time, (n, 2), of those that do."""
    turn = np.linspace(0, 2 * np.pi, _RAYS, endpoint=False)
    rays = np.stack([np.cos(turn), np.sin(turn)], -1)[:, None] * _OUTWARDS[:, None]
    points = apply(np.linalg.inv(to_unit_circle(hub)), rays.reshape(-1, 2)).reshape(*rays.shape)
    columns, rows = (np.ascontiguousarray(points[..., k], np.float32) for k in (0, 1))
    bright = cv2.remap(dark, columns, rows, cv2.INTER_NEAREST, borderValue=255) == 0
    leaves = bright.argmax(axis=1)
    return np.asarray(points[np.arange(_RAYS), leaves][bright.any(axis=1) & (leaves > 0)])


def _in_photo(points: FloatArray, scale: float) -> FloatArray:
    """Of the smaller picture's points: a pixel's centre lies at whole coordinates in both."""
    return np.asarray((points + 0.5) / scale - 0.5)


def _fitted(outer: FloatArray, inner: FloatArray) -> tuple[Pose, int, Ellipse] | None:
    hub = ellipse_through(inner)
    to_hub = to_unit_circle(hub)
    ratio = float(np.median(np.hypot(*apply(to_hub, outer).T)))
    diameter = 120 if 1 / ratio < setting("locate", "small_disc_share") else 80
    outer_mm = diameter / 2 - setting("locate", "mirror_ends_mm")
    homography = np.diag([outer_mm / ratio, outer_mm / ratio, 1.0]) @ to_hub
    points = np.concatenate([outer, inner])
    residual = np.full(len(points), np.inf)
    for _ in range(_STEPS):
        inner_mm = float(np.median(np.hypot(*apply(homography, inner).T)))
        radii = np.repeat([outer_mm, inner_mm], [len(outer), len(inner)])
        homography, residual = fit_circles(points, radii, homography)
    on_circle = np.abs(residual) < setting("locate", "fit_stray_mm")
    seen = float(on_circle[: len(outer)].sum() / _RAYS), float(on_circle[len(outer) :].mean())
    if min(seen) < setting("locate", "least_ring_seen"):
        return None
    sigma_mm = float(1.4826 * np.median(np.abs(residual[: len(outer)])))
    pose = Pose(homography, *seen, max(sigma_mm, setting("locate", "mirror_ends_sigma_mm")))
    return pose, diameter, Ellipse(hub.cx, hub.cy, hub.axis_major * ratio, hub.axis_minor * ratio, hub.angle_deg)
