"""The pose: rim and hole placed by the rings net, first close up, then at full resolution; one homography for both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.locate.conics import apply, centre_in_photo, local_scale, to_unit_circle
from discscan.locate.rings import CELLS, Ring, find_rings
from discscan.records import ByteImage, Ellipse, FloatArray
from discscan.weights import Net

HOLE_RADIUS_MM = 7.5
COARSE, FINE = (0.12, 0.45), (0.035, 0.14)
"""How far rim and hole are looked for, as shares of their radii: from the locator's pose, and from the first fit."""


@dataclass(frozen=True)
class Pose:
    """A fitted pose.

    Attributes:
        homography_px_to_mm: float64 (3, 3).
        rim_seen: share of the turn on which the rim's edge is seen.
        hole_seen: the same for the hole.
        sigma_mm: standard uncertainty of a rim point from the residuals.
    """

    homography_px_to_mm: FloatArray
    rim_seen: float
    hole_seen: float
    sigma_mm: float


def refine_pose(
    image: ByteImage,
    start_px_to_mm: FloatArray,
    *,
    rim_mm: float,
    hole_mm: float,
    reaches: tuple[float, float],
    net: Net,
) -> Pose | None:
    """Fit the homography to the edges of rim and hole, or None when too little of them is seen.

    Args:
        image: uint8 (h, w, 3).
        start_px_to_mm: float64 (3, 3), right to within `reaches`.
        rim_mm, hole_mm: radii of the two circles.
        reaches: COARSE or FINE.
        net: the net "rings".
    """
    rings = find_rings(image, start_px_to_mm, radii=(rim_mm, hole_mm), reaches=reaches, net=net)
    good = [ring.seen > setting("locate", "level.seen") for ring in rings]
    if good[0].mean() < setting("locate", "fit_rim_seen") or good[1].mean() < setting("locate", "fit_hole_seen"):
        return None
    return _fitted(rings, (rim_mm, hole_mm), good, start_px_to_mm)


def refine_twice(
    bgr: ByteImage, close: tuple[ByteImage, FloatArray], start_near_to_mm: FloatArray, *, rim_mm: float, net: Net
) -> Pose | None:
    """The pose of rim and hole, first close up and from there at full resolution: photo pixels to mm.

    Args:
        close: of `close_up`.
        start_near_to_mm: float64 (3, 3), the close-up's pixels to mm.
    """
    near, to_near = close
    circles = {"rim_mm": rim_mm, "hole_mm": HOLE_RADIUS_MM}
    pose = refine_pose(near, start_near_to_mm, **circles, reaches=COARSE, net=net)
    if pose is None:
        return None
    photo_to_mm = pose.homography_px_to_mm @ to_near
    fine = refine_pose(bgr, photo_to_mm, **circles, reaches=FINE, net=net)
    whole = min(pose.rim_seen, pose.hole_seen) > setting("locate", "blurred_seen")
    if fine is None and (whole or to_near[0, 0] == 1.0):
        # out of focus, or the close-up is the photo itself: no edge is known to a cell or a pixel of it
        near_to_mm = pose.homography_px_to_mm
        cell_mm = max(rim_mm * COARSE[0] * 2 / CELLS, local_scale(near_to_mm, *centre_in_photo(near_to_mm)))
        edge_mm = cell_mm * setting("locate", "blurred_edge_cells")
        return replace(pose, homography_px_to_mm=photo_to_mm, sigma_mm=max(pose.sigma_mm, edge_mm))
    return fine


def pose_by_rim(
    image: ByteImage,
    start_px_to_mm: FloatArray,
    *,
    rim_mm: float,
    reaches: tuple[float, float],
    net: Net,
    covered_by: Sequence[Ellipse] = (),
) -> Pose | None:
    """The same from the rim alone, where the hole is not seen: the horizon of the disc's plane stays that of the start.

    Rim and horizon tell where the centre is, as the rim's pole of the horizon.

    Args:
        covered_by: outlines of what lies on the disc, in the picture's pixels: no edge within them is its rim.
    """
    rim, _ = find_rings(image, start_px_to_mm, radii=(rim_mm, HOLE_RADIUS_MM), reaches=reaches, net=net)
    good = rim.seen > setting("locate", "level.seen")
    for outline in covered_by:
        good &= np.hypot(*apply(to_unit_circle(outline), rim.points).T) > 1.0
    if good.mean() < setting("locate", "fit_rim_seen"):
        return None
    return _fitted((rim,), (rim_mm,), [good], start_px_to_mm)


def _fitted(
    rings: Sequence[Ring], radii_mm: Sequence[float], good: Sequence[NDArray[np.bool_]], start_px_to_mm: FloatArray
) -> Pose:
    """The pose by the good edges of the rim, and of the hole if it is there."""
    points = np.concatenate([ring.points[seen] for ring, seen in zip(rings, good, strict=True)])
    radii = np.repeat(radii_mm, [int(seen.sum()) for seen in good])
    homography, residual = fit_circles(points, radii, start_px_to_mm, keep_horizon=len(rings) == 1)
    on_circle = np.abs(residual) < setting("locate", "fit_stray_mm")
    rim = int(good[0].sum())
    return Pose(
        homography,
        float(on_circle[:rim].sum() / len(good[0])),
        float(on_circle[rim:].sum() / len(good[0])),
        float(1.4826 * np.median(np.abs(residual[:rim]))),
    )


def fit_circles(
    points: FloatArray, radii_mm: FloatArray, start_px_to_mm: FloatArray, *, keep_horizon: bool = False
) -> tuple[FloatArray, FloatArray]:
    """Least squares for a homography that brings each photo point to its circle about the origin.

    Levenberg-Marquardt on |H p| - r with Cauchy weights against stray edges; the turn about the centre is left as it
    is, since nothing in the residual depends on it.

    Args:
        points: float64 (n, 2) photo pixels.
        radii_mm: float64 (n,) of the circle on which each should lie.
        keep_horizon: whether the line that the start sends to infinity stays; one circle alone does not tell it.
    Returns:
        homography float64 (3, 3) with last element 1, residuals float64 (n,) in mm.
    """
    cx, cy = points.mean(axis=0)
    spread = float(np.sqrt(((points - (cx, cy)) ** 2).sum(axis=1).mean()))
    normal = np.array([[1 / spread, 0, -cx / spread], [0, 1 / spread, -cy / spread], [0, 0, 1]])
    p = apply(normal, points)
    h = start_px_to_mm @ np.linalg.inv(normal)
    h = h / h[2, 2]
    x, y = p[:, 0], p[:, 1]
    damping, ones, free = 1e-3, np.ones(len(p)), 6 if keep_horizon else 8

    def residuals(h: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        w = h[2, 0] * x + h[2, 1] * y + 1.0
        u, v = (h[0, 0] * x + h[0, 1] * y + h[0, 2]) / w, (h[1, 0] * x + h[1, 1] * y + h[1, 2]) / w
        return np.hypot(u, v) - radii_mm, u, v, w

    r, u, v, w = residuals(h)
    for _ in range(12):
        scale = max(1.4826 * float(np.median(np.abs(r))), 0.01)
        weight = 1.0 / (1.0 + (r / (2.0 * scale)) ** 2)
        rho = np.hypot(u, v)
        du, dv = u / (rho * w), v / (rho * w)
        dw = -(u * u + v * v) / (rho * w)
        jacobian = np.stack([du * x, du * y, du * ones, dv * x, dv * y, dv * ones, dw * x, dw * y][:free], axis=1)
        normal_matrix = (jacobian * weight[:, None]).T @ jacobian
        gradient = (jacobian * weight[:, None]).T @ r
        cost = float((weight * r * r).sum())
        for _ in range(6):
            step = np.linalg.solve(normal_matrix + damping * np.diag(np.diag(normal_matrix) + 1e-9), -gradient)
            trial = h.copy()
            trial.flat[:free] += step
            r_new, u_new, v_new, w_new = residuals(trial)
            if (w_new > 0).all() and float((weight * r_new * r_new).sum()) < cost:
                damping = max(damping / 5.0, 1e-9)
                h, r, u, v, w = trial, r_new, u_new, v_new, w_new
                break
            damping *= 8.0
        else:
            break
        if np.abs(step).max() < 1e-9:
            break
    fitted = h @ normal
    return np.asarray(fitted / fitted[2, 2]), r
