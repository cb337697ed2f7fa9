"""Where the camera stands, and its rays. The disc's plane is z = 0, in mm: x right, y down, z up to the camera."""

from __future__ import annotations

import numpy as np
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import Array
from bench.other_light.view import View

SIDES = (0.75, 0.75, 0.75, 0.5625, 0.5625, 0.46, 1.0)
"""Short side over long side of photographs from phones (common practice, no source)."""


def looking(size_px: tuple[int, int], eye_mm: Array, at_mm: Array, focal_px: float, roll: float) -> View:
    """A pinhole camera at `eye_mm` (3,) that looks at `at_mm` (2,) in the plane; `roll` in radians."""
    ahead = np.array([*at_mm, 0.0]) - eye_mm
    ahead = ahead / np.linalg.norm(ahead)
    right = np.array([1.0, 0, 0]) - ahead[0] * ahead
    right = right / np.linalg.norm(right)
    down = np.cross(right, ahead)
    turned = np.stack([np.cos(roll) * right + np.sin(roll) * down, np.cos(roll) * down - np.sin(roll) * right, ahead])
    width, height = size_px
    lens = np.array([[focal_px, 0, (width - 1) / 2], [0, focal_px, (height - 1) / 2], [0, 0, 1]])
    homography = lens @ np.column_stack([turned[:, 0], turned[:, 1], -turned @ eye_mm])
    tilt = float(np.rad2deg(np.arccos(-ahead[2])))
    return View(width, height, homography / homography[2, 2], eye_mm, turned, focal_px, tilt)


def held_by_hand(rng: Rng, rim_mm: float, long_px: tuple[float, float]) -> View:
    """Somebody stands or sits at the lower side and leans over; now and then from aside."""
    long = round(log_uniform(rng, *long_px))
    short = round(long * rng.choice(SIDES))
    size = (short, long) if rng.random() < 0.6 else (long, short)
    focal = long * rng.choice([0.72, 0.78, 0.85, 1.05, 1.5]) * rng.uniform(0.97, 1.03)
    tilt = np.deg2rad(rng.choice([rng.uniform(2, 14), rng.uniform(12, 32), rng.uniform(30, 50)], p=[0.38, 0.42, 0.2]))
    side = np.pi / 2 + rng.normal(0, 0.45)
    apart = focal * 2 * rim_mm / (short * rng.uniform(0.66, 1.03)) + 0.5 * rim_mm * np.sin(tilt)
    eye = apart * np.array([np.sin(tilt) * np.cos(side), np.sin(tilt) * np.sin(side), np.cos(tilt)])
    spare_mm = np.maximum(np.array(size) / focal * apart / 2 - rim_mm, 2)
    at = rng.uniform(-0.5, 0.5, 2) * spare_mm
    return looking(size, eye, at, focal, float(rng.choice([0, rng.normal(0, 0.05), rng.normal(0, 0.3)])))


def image_of(view: View, points_mm: Array) -> Array:
    """Photo pixels (n, 2) of points (n, 3) anywhere before the camera."""
    seen = (points_mm - view.camera_mm) @ view.axes.T
    return np.asarray(seen[:, :2] / seen[:, 2:] * view.focal_px + (np.array([view.width_px, view.height_px]) - 1) / 2)


def plane_mm(view: View, columns_px: Array, rows_px: Array, height_mm: float = 0.0) -> Array:
    """Where the plane at a height is met at each crossing of these columns and rows: (rows, columns, 2), float32."""
    columns = (columns_px - (view.width_px - 1) / 2) / view.focal_px
    rows = (rows_px - (view.height_px - 1) / 2) / view.focal_px
    ray = [
        (view.axes[0, axis] * columns[None, :] + (view.axes[1, axis] * rows[:, None] + view.axes[2, axis])).astype(
            np.float32
        )
        for axis in range(3)
    ]
    reach = np.float32(height_mm - view.camera_mm[2]) / np.minimum(ray[2], -1e-3)
    return np.stack([np.float32(view.camera_mm[axis]) + reach * ray[axis] for axis in (0, 1)], -1)


def to_eye(view: View, points_mm: Array) -> Array:
    """Unit vectors (..., 3) from points (..., 2) of the disc's plane to the camera."""
    eye = view.camera_mm.astype(np.float32)
    way = np.concatenate([eye[:2] - points_mm, np.full((*points_mm.shape[:-1], 1), eye[2])], -1)
    return np.asarray(way / np.linalg.norm(way, axis=-1, keepdims=True), np.float32)
