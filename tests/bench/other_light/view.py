"""Where the camera stands. The disc's plane is in mm, its centre the origin: x right, y down, z up to the camera."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from .chance import Rng, log_uniform
from .optics import Array

SHAPES = (0.75, 0.75, 0.5625, 0.667)


def through(homography: Array, points: Array) -> Array:
    """Points (n, 2) through a homography."""
    mapped = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:])


def ellipse_px(homography: Array, radius_mm: float) -> dict[str, float]:
    """What a circle about the origin becomes: the conic M^-T C M^-1 of the projected circle, exactly (textbook)."""
    back = np.linalg.inv(homography)
    conic = back.T @ np.diag([1, 1, -(radius_mm**2)]) @ back
    centre = -np.linalg.solve(conic[:2, :2], conic[:2, 2])
    squares, ways = np.linalg.eigh(-conic[:2, :2] / (conic[:2, 2] @ centre + conic[2, 2]))
    axes, major = 2 / np.sqrt(squares), ways[:, np.argmin(squares)]
    return {
        "cx": float(centre[0]),
        "cy": float(centre[1]),
        "axis_major": float(axes.max()),
        "axis_minor": float(axes.min()),
        "angle_deg": float(np.rad2deg(np.arctan2(major[1], major[0])) % 180),
    }


@dataclass(frozen=True)
class View:
    """A pinhole camera before a disc."""

    width_px: int
    height_px: int
    homography: Array
    """(3, 3), mm in the disc's plane to photo pixels; the middle of the first pixel is (0, 0)."""
    camera_mm: Array
    """(3,)"""
    axes: Array
    """(3, 3), rows: to the right of the picture, down in it, and the way the camera looks."""
    focal_px: float
    tilt_deg: float

    def to_eye(self, points_mm: Array) -> Array:
        """Unit vectors (n, 3) from points (n, 2) of the disc's plane to the camera."""
        way = np.column_stack([self.camera_mm[:2] - points_mm, np.full(len(points_mm), self.camera_mm[2])])
        return np.asarray(way / np.linalg.norm(way, axis=1, keepdims=True), np.float32)

    def px(self, points_mm: Array) -> Array:
        return through(self.homography, points_mm)

    def mm(self, columns_px: Array, rows_px: Array) -> Array:
        """The disc's plane, (rows, columns, 2), at each crossing of these columns and rows of the photograph."""
        x, y = np.meshgrid(columns_px, rows_px)
        back = np.linalg.inv(self.homography)
        return through(back, np.column_stack([x.ravel(), y.ravel()])).reshape(*x.shape, 2).astype(np.float32)

    def px_per_mm2(self, points_mm: Array) -> Array:
        """Photo pixels per square millimetre at each point, (n,)."""
        step = 0.05
        here = self.px(points_mm)
        right, down = (self.px(points_mm + step * way) - here for way in np.eye(2))
        return np.asarray(np.abs(right[:, 0] * down[:, 1] - right[:, 1] * down[:, 0]) / step**2)


def random_view(rng: Rng, rim_mm: float, long_px: tuple[float, float], fill: tuple[float, float]) -> View:
    """A camera held by hand, leaning back more often than aside; the rim takes `fill` of the picture's short side."""
    width = round(log_uniform(rng, *long_px))
    height = round(width * rng.choice(SHAPES))
    if rng.random() < 0.5:
        width, height = height, width
    short, focal = min(width, height), max(width, height) * rng.uniform(0.72, 1.35)
    even = np.arccos(1 - rng.random() * (1 - np.cos(np.deg2rad(40))))  # even over the cap of 40 degrees
    tilt = even if rng.random() < 0.7 else np.deg2rad(rng.uniform(0, 12))
    lean = rng.uniform(0, 2 * np.pi) if rng.random() < 0.4 else rng.normal(0, 0.5)
    turned, _ = cv2.Rodrigues(np.array([np.cos(lean), np.sin(lean), 0]) * tilt)
    share = rng.uniform(*fill)
    distance = focal * 2 * rim_mm / (share * short)
    room = (np.array([width, height]) - share * short) / 2 / focal * distance
    aside = np.clip(rng.normal(0, 0.33, 2), -0.85, 0.85) * room
    lens = np.array([[focal, 0, width / 2], [0, focal, height / 2], [0, 0, 1]])
    homography = lens @ np.column_stack([turned[:, :2], [*aside, distance]])
    camera = -turned.T @ np.array([*aside, distance])
    up = np.array([1, 1, -1])  # the plane's own z runs away from the camera
    return View(width, height, homography / homography[2, 2], camera * up, turned * up, focal, float(np.rad2deg(tilt)))
