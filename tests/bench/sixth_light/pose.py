"""Where the phone is held: over the disc or leaning back from it, mostly on the side of whoever holds it."""

from __future__ import annotations

import numpy as np
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import Array
from bench.other_light.view import View

MOST_TILT_DEG = 45.0
SHARES = (0.35, 0.95)
"""The disc's share of the picture's shorter side."""
SHAPES = (0.75, 0.75, 0.75, 0.5625, 0.462, 1.0)


def pinhole(size_px: tuple[int, int], camera_mm: Array, aim_mm: Array, focal_px: float, roll: float) -> View:
    """The view from a place to a point of the disc's plane; `roll` turns the picture's right side."""
    look = np.append(aim_mm, 0.0) - camera_mm
    look = look / np.linalg.norm(look)
    right = np.array([np.cos(roll), np.sin(roll), 0.0])
    right = right - (right @ look) * look
    right /= np.linalg.norm(right)
    axes = np.stack([right, np.cross(right, look), look])  # right, down and ahead as x, y and -z are
    lens = np.array([[focal_px, 0, (size_px[0] - 1) / 2], [0, focal_px, (size_px[1] - 1) / 2], [0, 0, 1]])
    plane = lens @ np.column_stack([axes[:, :2], -axes @ camera_mm])
    tilt = float(np.rad2deg(np.arccos(min(1.0, -look[2]))))
    return View(*size_px, plane / plane[2, 2], camera_mm, axes, focal_px, tilt)


def plane_mm(view: View) -> Array:
    """The disc's plane (height, width, 2) at each pixel, in mm, single precision."""
    back = np.linalg.inv(view.homography).astype(np.float32)
    x, y = np.arange(view.width_px, dtype=np.float32)[None, :], np.arange(view.height_px, dtype=np.float32)[:, None]
    below = x * back[2, 0] + (y * back[2, 1] + back[2, 2])
    return np.stack([(x * row[0] + (y * row[1] + row[2])) / below for row in back[:2]], -1)


def by_hand(rng: Rng, rim_mm: float, long_px: tuple[float, float]) -> View:
    """A phone at random; now and then the picture cuts the disc a little."""
    long = round(log_uniform(rng, *long_px))
    short = round(long * rng.choice(SHAPES))
    size = (short, long) if rng.random() < 0.62 else (long, short)
    focal = long * rng.choice([0.72, 0.72, 0.78, 1.0, 1.45]) * np.exp(rng.normal(0, 0.04))
    tilt = np.deg2rad(MOST_TILT_DEG * (rng.uniform(0, 0.4) if rng.random() < 0.45 else rng.random()))
    aside = rng.normal(0, 0.35) if rng.random() < 0.8 else rng.uniform(-np.pi, np.pi)
    share = rng.uniform(*SHARES) if rng.random() < 0.5 else rng.uniform(0.6, SHARES[1])
    far = focal * 2 * rim_mm / (share * min(size))
    back = np.array([np.sin(aside), np.cos(aside)])
    camera = far * np.append(np.sin(tilt) * back, np.cos(tilt))
    room = (np.array(size) - share * min(size)) / 2
    off = np.clip(rng.normal(0, 0.35, 2), -0.9, 0.9) * room
    if rng.random() < 0.12:
        axis = int(rng.integers(2))
        off[axis] = rng.choice([-1, 1]) * (room[axis] + rng.uniform(0.01, 0.12) * share * min(size))
    roll = rng.normal(0, 0.12) - aside * (rng.random() < 0.5)
    turned = np.array([[np.cos(roll), -np.sin(roll)], [np.sin(roll), np.cos(roll)]])
    aim = -turned @ (off * far / focal)
    return pinhole(size, camera + np.append(aim, 0.0), aim, float(focal), float(roll))
