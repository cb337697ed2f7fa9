"""Where the camera stands, and the part of its picture that holds the disc."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import Array
from bench.other_light.view import View, ellipse_px

SIDES = (3 / 4, 3 / 4, 3 / 4, 9 / 16, 1.0)
"""Short side over long: what phones take (common practice, no source)."""
LEAST_RIM_PX, MOST_RIM_PX = 450, 2950


def camera_at(size_px: tuple[int, int], eye_mm: Array, aim_mm: Array, focal_px: float, roll: float) -> View:
    """A pinhole at `eye_mm` (3,) whose axis meets the disc's plane at `aim_mm` (2,)."""
    look = np.append(aim_mm, 0.0) - eye_mm
    look = look / np.linalg.norm(look)
    right = np.array([1.0, 0, 0]) - look[0] * look
    right /= np.linalg.norm(right)
    down = -np.cross(look, right)
    right, down = right * np.cos(roll) + down * np.sin(roll), down * np.cos(roll) - right * np.sin(roll)
    axes = np.stack([right, down, look])
    width, height = size_px
    lens = np.array([[focal_px, 0, (width - 1) / 2], [0, focal_px, (height - 1) / 2], [0, 0, 1]])
    homography = lens @ np.column_stack([axes[:, :2], -axes @ eye_mm])
    tilt = float(np.rad2deg(np.arccos(-look[2])))
    return View(width, height, homography / homography[2, 2], eye_mm, axes, focal_px, tilt)


def lower(view: View, z_mm: float) -> Array:
    """The homography (3, 3) from mm to px of the plane at height `z_mm`."""
    eye = view.camera_mm - np.array([0, 0, z_mm])
    lens = np.diag([view.focal_px, view.focal_px, 1.0])
    lens[:2, 2] = (view.width_px - 1) / 2, (view.height_px - 1) / 2
    whole = lens @ np.column_stack([view.axes[:, :2], -view.axes @ eye])
    return np.asarray(whole / whole[2, 2])


def random_view(rng: Rng, rim_mm: float, long_px: tuple[float, float]) -> View:
    """Held by hand: from nearly above or leaning, mostly from the side where the hands are (+y)."""
    long = round(log_uniform(rng, *long_px))
    short = round(long * float(rng.choice(SIDES)))
    width, height = (long, short) if rng.random() < 0.45 else (short, long)
    focal = long * (rng.normal(0.75, 0.04) if rng.random() < 0.7 else rng.normal(1.45, 0.1))
    tilt = np.deg2rad(rng.choice([rng.uniform(0, 9), rng.uniform(4, 24), rng.uniform(18, 40)], p=[0.35, 0.4, 0.25]))
    side = np.pi / 2 + rng.normal(0, 0.45)
    share = min(0.97, max(rng.beta(3, 1.6) * 0.55 + 0.42, LEAST_RIM_PX / short))
    cut = rng.random() < 0.07
    share = min(share * 1.25 if cut else share, MOST_RIM_PX / short)
    away = 2 * rim_mm * focal / (share * short)
    eye = away * np.array([np.sin(tilt) * np.cos(side), np.sin(tilt) * np.sin(side), np.cos(tilt)])
    slack = (np.array([width, height]) - share * short).clip(0) / 2 / focal * away
    aim = (0.8 if cut else 0.35) * slack * rng.normal(0, 1, 2).clip(-1.6, 1.6)
    return camera_at((width, height), eye, aim, focal, rng.normal(0, 0.05))


def enlarged(view: View, factor: float) -> View:
    """The same picture with more pixels, whose edges lie where they lay."""
    size = np.round(np.array([view.width_px, view.height_px]) * factor).astype(int)
    across, along = size / (view.width_px, view.height_px)
    scale = np.array([[across, 0, (across - 1) / 2], [0, along, (along - 1) / 2], [0, 0, 1]])
    whole = scale @ view.homography
    return replace(
        view,
        width_px=int(size[0]),
        height_px=int(size[1]),
        homography=whole / whole[2, 2],
        focal_px=view.focal_px * float(across),
    )


@dataclass(frozen=True)
class Window:
    """The rows and columns of a photograph that hold the disc, and a coarse grid of them."""

    view: View
    left: int
    top: int
    width: int
    height: int

    @property
    def part(self) -> tuple[slice, slice]:
        return slice(self.top, self.top + self.height), slice(self.left, self.left + self.width)

    @property
    def to_window(self) -> Array:
        """The homography (3, 3), mm to px of the window."""
        return np.asarray(np.array([[1, 0, -self.left], [0, 1, -self.top], [0, 0, 1]]) @ self.view.homography)

    def mm(self, step_px: int = 1) -> Array:
        """(rows, columns, 2) in float32: each cell's middle, a cell being `step_px` wide."""
        middle = (step_px - 1) / 2
        columns = self.left + np.arange(0, self.width, step_px) + middle
        rows = self.top + np.arange(0, self.height, step_px) + middle
        back = np.linalg.inv(self.view.homography)
        x, y = columns[None, :], rows[:, None]
        below = back[2, 0] * x + back[2, 1] * y + back[2, 2]
        both = [(back[axis, 0] * x + back[axis, 1] * y + back[axis, 2]) / below for axis in (0, 1)]
        return np.stack(both, 2).astype(np.float32)

    def fine(self, coarse: Array, step_px: int) -> Array:
        """A coarse grid's values at every pixel."""
        if step_px == 1:
            return coarse
        rows, columns = coarse.shape[:2]
        whole = cv2.resize(coarse, (columns * step_px, rows * step_px), interpolation=cv2.INTER_LINEAR)
        return np.ascontiguousarray(whole[: self.height, : self.width])


def window_of(view: View, rim_mm: float) -> Window:
    box = ellipse_px(view.homography, rim_mm + 1.5)
    half = box["axis_major"] / 2 + 3
    left, top = max(0, int(box["cx"] - half)), max(0, int(box["cy"] - half))
    right, bottom = min(view.width_px, int(box["cx"] + half) + 1), min(view.height_px, int(box["cy"] + half) + 1)
    return Window(view, left, top, right - left, bottom - top)
