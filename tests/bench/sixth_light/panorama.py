"""All that a disc can mirror: a painted hemisphere over its plane, and cards that hang near.

The hemisphere is kept over the plane of sines. There a mirror is a turn of sign and each order of the grating a shift;
and as dx dy = cos(theta) d omega, the mean of the picture is what a white matt table shows.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import cv2
import numpy as np
from bench.other_light.optics import Array

HALF = 200
"""Cells from the middle to the horizon of what the grating is given."""
BLURS = (0.006, 0.012, 0.04, 0.14)
"""In sines: a mirror's picture out of focus; for the grating; for grooves and grease; for rough faces."""


def sampled(picture: Array, columns: Array, rows: Array, border: int = cv2.BORDER_REPLICATE) -> Array:
    """A picture at places in pixels of any shape (...,); linear between."""
    shape, count = columns.shape, columns.size
    wide = min(count, 4096)
    pad = -count % max(wide, 1)
    x, y = (np.pad(part.astype(np.float32).ravel(), (0, pad)).reshape(-1, wide) for part in (columns, rows))
    found = cv2.remap(picture, x, y, cv2.INTER_LINEAR, borderMode=border)
    return np.asarray(found.reshape(-1, *picture.shape[2:])[:count].reshape(*shape, *picture.shape[2:]))


def blurred(picture: Array, sigma: float) -> Array:
    """A Gaussian blur, on a smaller picture where it is wide."""
    if sigma < 0.4:
        return picture
    less = int(max(1, sigma // 3))
    height, width = picture.shape[:2]
    small = cv2.resize(picture, (-(-width // less), -(-height // less)), interpolation=cv2.INTER_AREA)
    soft = cv2.GaussianBlur(small, (0, 0), sigma / less)
    return np.asarray(cv2.resize(soft, (width, height), interpolation=cv2.INTER_LINEAR))


@dataclass(frozen=True)
class Card:
    """A flat thing near the disc."""

    middle_mm: Array
    """(3,)"""
    axes: Array
    """(3, 3), rows: to its right, down it, through it."""
    paint: Array
    """(height, width, 4), a pixel per mm, radiance times cover, and cover."""

    @cached_property
    def soft(self) -> list[Array]:
        far = float(np.linalg.norm(self.middle_mm))
        return [blurred(np.pad(self.paint, ((40, 40), (40, 40), (0, 0))), 0.7 * blur * far) for blur in BLURS]

    def over(self, light: Array, points_mm: Array, ways: Array, level: int) -> None:
        """Lays the card over what rays from points (n, 2) along unit vectors (n, 3) meet."""
        right, down, ahead = self.axes.astype(np.float32)
        middle = self.middle_mm.astype(np.float32)
        facing = ways @ ahead
        far = (middle @ ahead - points_mm @ ahead[:2]) / np.where(np.abs(facing) < 1e-4, np.float32(1e-4), facing)
        paint = self.soft[level]
        height, width = paint.shape[:2]
        column = far * (ways @ right) + points_mm @ right[:2] + np.float32(width / 2 - 0.5 - middle @ right)
        row = far * (ways @ down) + points_mm @ down[:2] + np.float32(height / 2 - 0.5 - middle @ down)
        met = (far > 1) & (column > 0) & (row > 0) & (column < width - 1) & (row < height - 1)
        there = np.nonzero(met)[0]
        if len(there):
            seen = sampled(paint, column[there], row[there])
            light[there] = light[there] * (1 - seen[:, 3:]) + seen[:, :3]


@dataclass
class Panorama:
    name: str
    radiance: Array
    """(n, n, 3): columns and rows run over sines from -1 to 1."""
    far_mm: float
    """How far away its things are taken to be."""
    open_air: bool = False
    cards: list[Card] = field(default_factory=list)
    """The farthest first."""

    @cached_property
    def levels(self) -> list[Array]:
        return [blurred(self.radiance, blur * len(self.radiance) / 2) for blur in BLURS]

    def _cell(self, sines: Array) -> tuple[Array, Array]:
        cell = (sines + 1) * (len(self.radiance) / 2) - 0.5
        return cell[..., 0], cell[..., 1]

    def look(self, points_mm: Array, sines: Array, level: int) -> Array:
        """Radiance (..., 3) that reaches points (..., 2) of the disc's plane from these sines."""
        shape = sines.shape[:-1]
        at, side = points_mm.reshape(-1, 2).astype(np.float32), sines.reshape(-1, 2).astype(np.float32)
        square = side[:, 0] ** 2 + side[:, 1] ** 2
        if square.max(initial=0) > 0.99:  # from the horizon, at the most
            side = side * np.minimum(1, np.sqrt(0.99 / square.clip(1e-6)))[:, None]
            square = square.clip(0, 0.99)
        ways = np.column_stack([side, np.sqrt(1 - square)])
        along = at[:, 0] * side[:, 0] + at[:, 1] * side[:, 1]
        reach = np.sqrt(along**2 + np.float32(self.far_mm**2) - (at[:, 0] ** 2 + at[:, 1] ** 2)) - along
        light = sampled(self.levels[level], *self._cell((at + side * reach[:, None]) / np.float32(self.far_mm)))
        for card in self.cards:
            card.over(light, at, ways, level)
        return light.reshape(*shape, 3)

    @cached_property
    def from_middle(self) -> Array:
        """The whole as the middle of the disc sees it, cards and all, for the grating; black below the horizon."""
        axis = ((np.arange(2 * HALF) + 0.5) / HALF - 1).astype(np.float32)
        sines = np.stack(np.meshgrid(axis, axis), -1)
        light = self.look(np.zeros_like(sines), sines, 1)
        return np.asarray(light * ((sines**2).sum(-1) < 1)[..., None])

    def orders_from(self, points_mm: Array, sines: Array) -> Array:
        """As `look`, of the grating's light: none from beyond the horizon; nearness is made up for in first order."""
        near = points_mm / np.float32(self.far_mm)
        cell = (sines + near - (near * sines).sum(-1, keepdims=True) * sines + 1) * HALF - 0.5
        return sampled(self.from_middle, cell[..., 0], cell[..., 1], cv2.BORDER_CONSTANT)

    def white_matt(self, points_mm: Array, cells: int = 44) -> Array:
        """What white matt paper would show at points (n, 2): the mean over the sines. (n, 3)"""
        axis = (np.arange(cells) + 0.5) / cells * 2 - 1
        sines = np.stack(np.meshgrid(axis, axis), -1).reshape(-1, 2).astype(np.float32)
        sines = sines[(sines**2).sum(1) < 1]
        every = np.broadcast_to(points_mm[:, None], (len(points_mm), len(sines), 2))
        return np.asarray(self.look(every, np.broadcast_to(sines, every.shape), 2).mean(1))
