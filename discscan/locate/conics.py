"""Ellipses and the homographies that send one circle to another: closed forms, no images.

A photograph of a disc shows one family of concentric circles under one homography. The rim's ellipse fixes that
homography up to where the disc's centre falls (2 numbers) and a turn about it: the homographies that keep the unit
circle are the hyperbolic motions of its inside, so a pose is "the affine map that makes the rim a unit circle, then the
motion that brings the centre to the origin".
"""

from __future__ import annotations

import math
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.records import Ellipse, FloatArray


def ellipse_through(points: FloatArray) -> Ellipse:
    """The ellipse that fits points (n, 2) best: OpenCV's direct fit, whose angle is that of the width's axis."""
    (cx, cy), (width, height), angle_deg = cv2.fitEllipseDirect(points.astype(np.float32))
    if width >= height:
        return Ellipse(cx, cy, width, height, angle_deg % 180.0)
    return Ellipse(cx, cy, height, width, (angle_deg + 90.0) % 180.0)


def to_unit_circle(ellipse: Ellipse) -> FloatArray:
    """The affine map float64 (3, 3) that sends the ellipse to the unit circle, without turning x and y about."""
    c, s = math.cos(math.radians(ellipse.angle_deg)), math.sin(math.radians(ellipse.angle_deg))
    turn = np.array([[c, s], [-s, c]])
    linear = turn.T @ np.diag([2.0 / ellipse.axis_major, 2.0 / ellipse.axis_minor]) @ turn
    affine = np.eye(3)
    affine[:2, :2] = linear
    affine[:2, 2] = -linear @ (ellipse.cx, ellipse.cy)
    return affine


def centring_motion(x: float, y: float) -> FloatArray:
    """The homography float64 (3, 3) that keeps the unit circle and brings its inner point (x, y) to the origin.

    It is the Lorentz boost of velocity (x, y): it leaves x² + y² - w² alone, hence the circle.

    Raises:
        ValueError: (x, y) is not inside the unit circle.
    """
    v2 = x * x + y * y
    if v2 >= 1.0:
        raise ValueError("the centre must lie inside the rim")
    gamma = 1.0 / math.sqrt(1.0 - v2)
    # (gamma - 1) / v2 tends to 1/2 as v2 vanishes
    k = gamma * gamma / (gamma + 1.0)
    return np.array(
        [
            [1.0 + k * x * x, k * x * y, -gamma * x],
            [k * x * y, 1.0 + k * y * y, -gamma * y],
            [-gamma * x, -gamma * y, gamma],
        ]
    )


def apply(homography: NDArray[np.floating[Any]], points: NDArray[np.floating[Any]]) -> FloatArray:
    """Map points (n, 2) by a homography (3, 3)."""
    mapped = points @ homography[:, :2].T + homography[:, 2]
    return np.asarray(mapped[:, :2] / mapped[:, 2:], dtype=np.float64)


def circle_image(homography_px_to_mm: FloatArray, radius_mm: float) -> Ellipse:
    """The ellipse in the photo that the disc's circle of `radius_mm` about the origin makes.

    Raises:
        ValueError: the image is no ellipse (the circle crosses the horizon).
    """
    conic = homography_px_to_mm.T @ np.diag([1.0, 1.0, -radius_mm * radius_mm]) @ homography_px_to_mm
    return ellipse_of_conic(conic)


def ellipse_of_conic(conic: FloatArray) -> Ellipse:
    """An `Ellipse` from its symmetric matrix float64 (3, 3), p^T C p = 0.

    Raises:
        ValueError: the conic is not a real ellipse.
    """
    a = conic[:2, :2]
    if np.linalg.det(a) <= 0.0:
        raise ValueError("not an ellipse")
    centre = np.linalg.solve(a, -conic[:2, 2])
    level = -(conic[2, 2] + conic[:2, 2] @ centre)
    values, vectors = np.linalg.eigh(a * np.sign(np.trace(a)))
    level *= np.sign(np.trace(a))
    if level <= 0.0 or values[0] <= 0.0:
        raise ValueError("not an ellipse")
    half = np.sqrt(level / values)  # ascending eigenvalues: the major axis first
    angle = math.degrees(math.atan2(vectors[1, 0], vectors[0, 0])) % 180.0
    return Ellipse(float(centre[0]), float(centre[1]), float(2 * half[0]), float(2 * half[1]), angle)


def local_scale(homography_px_to_mm: FloatArray, x: float, y: float) -> float:
    """Geometric mean of mm per pixel at the photo point (x, y): the root of the Jacobian's determinant."""
    h = homography_px_to_mm
    w = h[2, 0] * x + h[2, 1] * y + h[2, 2]
    return float(math.sqrt(abs(np.linalg.det(h) / w**3)))


def without_turn(homography_px_to_mm: FloatArray) -> FloatArray:
    """The same pose turned about the disc's centre so that mm x runs along the photo's x there; last element 1."""
    cx, cy = centre_in_photo(homography_px_to_mm)
    step = apply(homography_px_to_mm, np.array([[cx + 0.5, cy], [cx - 0.5, cy]]))
    dx, dy = step[0] - step[1]
    length = math.hypot(dx, dy)
    turn = np.array([[dx / length, dy / length, 0.0], [-dy / length, dx / length, 0.0], [0.0, 0.0, 1.0]])
    turned = turn @ homography_px_to_mm
    return np.asarray(turned / turned[2, 2])


def towards_camera(homography_px_to_mm: FloatArray) -> FloatArray:
    """Part along the disc (x, y) of the unit vector from the disc's centre to the camera: as long as the tilt's sine.

    How much the disc is foreshortened at its centre tells the tilt and its axis (the cosine, for a distant camera); the
    side that appears larger is the nearer one.
    """
    cx, cy = centre_in_photo(homography_px_to_mm)
    corners = apply(homography_px_to_mm, np.array([[cx + 0.5, cy], [cx - 0.5, cy], [cx, cy + 0.5], [cx, cy - 0.5]]))
    mm_per_px = np.stack([corners[0] - corners[1], corners[2] - corners[3]], axis=1)
    ways, (large, little), _ = np.linalg.svd(mm_per_px)
    way = ways[:, 0]  # more mm to a pixel this way
    grows = homography_px_to_mm[2, :2] @ np.linalg.solve(mm_per_px, way) / (homography_px_to_mm[2] @ (cx, cy, 1.0))
    return np.asarray(way * math.copysign(math.sqrt(max(1.0 - (little / large) ** 2, 0.0)), grows))


def centre_in_photo(homography_px_to_mm: FloatArray) -> tuple[float, float]:
    """Where the disc's centre falls in the photo (not the centre of the rim's ellipse)."""
    x, y, w = np.linalg.inv(homography_px_to_mm)[:, 2]
    return float(x / w), float(y / w)
