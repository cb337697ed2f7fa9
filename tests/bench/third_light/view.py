"""Where the camera stands. World: mm; x right, y down the photograph, z up; the data side lies at height 0."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import Array
from bench.other_light.view import View, ellipse_px, through

SHAPES = (4 / 3, 4 / 3, 4 / 3, 16 / 9, 3 / 2, 1.0)
RIM_PX = (500.0, 3000.0)
TABLE_MM = -1.2
"""Discs are 1.2 mm thick (ECMA-130, from memory)."""
FAR_MM = 900.0
"""No corner of the photograph sees the table farther off."""


def noise(rng: Rng, shape: tuple[int, ...], cell: float | tuple[float, float], octaves: int = 3) -> Array:
    """Smooth noise (height, width), its largest cells so high and wide, each octave half as strong and as wide."""
    height, width = shape
    total = np.zeros((height, width), np.float32)
    for octave in range(octaves):
        rows, columns = (int(nodes) + 3 for nodes in np.array(shape) * 2**octave / cell)
        nodes = rng.standard_normal((min(rows, height + 2), min(columns, width + 2))).astype(np.float32)
        total += 0.5**octave * cv2.resize(nodes, (width, height), interpolation=cv2.INTER_CUBIC)
    return total


def circle(radius_mm: float, points: int = 720) -> Array:
    turn = np.linspace(0, 2 * np.pi, points, endpoint=False)
    return np.asarray(radius_mm * np.stack([np.cos(turn), np.sin(turn)], 1))


def corners(width: float, height: float) -> Array:
    return np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float64)


def plane(width: int, height: int, focal_px: float, axes: Array, camera_mm: Array, height_mm: float) -> Array:
    """Homography (3, 3) of the plane at a height, mm to pixels of the photograph."""
    lens = np.array([[focal_px, 0, (width - 1) / 2], [0, focal_px, (height - 1) / 2], [0, 0, 1]]) @ axes
    whole = np.column_stack([lens[:, :2], lens @ (np.array([0, 0, height_mm]) - camera_mm)])
    return np.asarray(whole / whole[2, 2])


def at_height(view: View, height_mm: float) -> Array:
    return plane(view.width_px, view.height_px, view.focal_px, view.axes, view.camera_mm, height_mm)


def px_per_mm(view: View, rim_mm: float) -> float:
    return ellipse_px(view.homography, rim_mm)["axis_major"] / (2 * rim_mm)


def random_view(rng: Rng, rim_mm: float, long_px: tuple[float, float]) -> View:
    """A camera held by hand, leaning back more often than aside; now and then the rim is cut off a little."""
    while True:
        long = int(log_uniform(rng, *long_px))
        short = int(long / rng.choice(SHAPES))
        rim_px = short * (0.98 - 0.45 * rng.random() ** 1.6)
        if not RIM_PX[0] <= rim_px <= RIM_PX[1]:
            continue
        view = _held(rng, rim_mm, rim_px, (long, short) if rng.random() < 0.5 else (short, long))
        size = np.array([view.width_px, view.height_px])
        margin = short * (-0.03 if rng.random() < 0.06 else 0.005)
        rim = view.px(circle(rim_mm, 90))
        seen = through(np.linalg.inv(at_height(view, TABLE_MM)), corners(*size))
        if np.abs(seen).max() < FAR_MM and (rim > margin).all() and (rim < size - margin).all():
            return view


def _held(rng: Rng, rim_mm: float, rim_px: float, size_px: tuple[int, int]) -> View:
    tilt = np.deg2rad(40 * rng.beta(1.1, 1.8))
    side = np.pi / 2 + np.deg2rad(rng.normal(0, 25)) if rng.random() < 0.8 else rng.uniform(0, 2 * np.pi)
    focal = max(max(size_px) * rng.uniform(0.72, 1.3), rng.uniform(190, 260) * rim_px / (2 * rim_mm))
    back = np.array([np.sin(tilt) * np.cos(side), np.sin(tilt) * np.sin(side), np.cos(tilt)])
    camera = np.array([*rng.uniform(-0.5, 0.5, 2) * rim_mm, 0]) + focal * 2 * rim_mm / rim_px * back
    roll = rng.normal(0, 0.12)
    down = np.array([np.sin(roll), np.cos(roll), 0])
    down = down + back * (down @ -back)
    down /= np.linalg.norm(down)
    axes = np.stack([np.cross(-back, down), down, -back])
    homography = plane(*size_px, focal, axes, camera, 0)
    return View(*size_px, homography, camera, axes, focal, float(np.rad2deg(tilt)))


@dataclass(frozen=True)
class Window:
    """The part of a photograph that the disc takes."""

    view: View
    left: int
    top: int
    right: int
    bottom: int

    @property
    def size(self) -> tuple[int, int]:
        return self.right - self.left, self.bottom - self.top

    @property
    def part(self) -> tuple[slice, slice]:
        return np.s_[self.top : self.bottom, self.left : self.right]

    def homography(self, height_mm: float) -> Array:
        """mm of the plane at a height to pixels of the window."""
        shift = np.array([[1, 0, -self.left], [0, 1, -self.top], [0, 0, 1.0]])
        return np.asarray(shift @ at_height(self.view, height_mm))

    def px(self, points_mm: Array, height_mm: float) -> Array:
        return through(self.homography(height_mm), points_mm)

    def mm(self, height_mm: float) -> tuple[Array, Array]:
        """x and y (height, width) of what each pixel sees of the plane at a height."""
        back = np.linalg.inv(self.homography(height_mm)).astype(np.float32)
        x, y = np.arange(self.size[0], dtype=np.float32)[None], np.arange(self.size[1], dtype=np.float32)[:, None]
        far = back[2, 0] * x + (back[2, 1] * y + back[2, 2])
        mapped = [(back[row, 0] * x + (back[row, 1] * y + back[row, 2])) / far for row in (0, 1)]
        return mapped[0], mapped[1]

    def filled(self, outline_mm: Array, height_mm: float, smaller: int = 1) -> Array:
        """Shares (height, width) of the pixels that an outline covers, in a picture so many times smaller."""
        mask = np.zeros((self.size[1] // smaller + (smaller > 1), self.size[0] // smaller + (smaller > 1)), np.uint8)
        cells = np.round(self.px(outline_mm, height_mm) * 16 / smaller).astype(np.int32)
        cv2.fillPoly(mask, [cells], (255,), cv2.LINE_AA, 4)
        return mask / np.float32(255)


def whole(view: View) -> Window:
    return Window(view, 0, 0, view.width_px, view.height_px)


def window_of(view: View, rim_mm: float) -> Window:
    rims = np.concatenate([through(at_height(view, height), circle(rim_mm + 1)) for height in (0, TABLE_MM)])
    left, top = np.maximum(np.floor(rims.min(0)).astype(int), 0)
    right, bottom = np.minimum(np.ceil(rims.max(0)).astype(int) + 1, [view.width_px, view.height_px])
    return Window(view, int(left), int(top), int(right), int(bottom))
