"""Brushes for a hemisphere: boxes with walls and a ceiling, windows, lamps, shelves, skies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bench.other_light.chance import Rng, cloud, colour, ramp
from bench.other_light.optics import Array

CELLS = 512
CEILING = 4


@dataclass
class Wall:
    """One wall or the ceiling of a box."""

    cells: tuple[Array, ...]
    """Rows and columns of the cells that show it, (n,)."""
    aside_mm: Array
    """(n,) where on it each lies."""
    up_mm: Array
    """On the ceiling the other way."""


class Sketch:
    """A hemisphere in the making, the farthest things first."""

    def __init__(self, rng: Rng, base: Array) -> None:
        axis = ((np.arange(CELLS) + 0.5) / CELLS * 2 - 1).astype(np.float32)
        x, y = np.meshgrid(axis, axis)
        size = np.sqrt(x * x + y * y)
        less = np.minimum(1, 0.999 / size)  # beyond the horizon: as at it, so that blurs do not bleed
        self.rng, self.x, self.y = rng, x * less, y * less
        self.up = np.sqrt(1 - self.x**2 - self.y**2)
        self.turn = np.arctan2(self.y, self.x)
        self.light = np.broadcast_to(base.astype(np.float32), (CELLS, CELLS, 3)).copy()

    def lay(self, cover: Array, radiance: Array) -> None:
        """Paints where `cover` is 1; radiance (3,) or (cells, cells, 3)."""
        self.light += cover.astype(np.float32)[..., None] * (radiance.astype(np.float32) - self.light)

    def lay_on(self, face: Wall, cover: Array, radiance: Array) -> None:
        """The same on one face; cover (n,), radiance (3,) or (n, 3)."""
        light = self.light[face.cells]
        light += cover.astype(np.float32)[:, None] * (radiance.astype(np.float32) - light)
        self.light[face.cells] = light

    def cloud(self, cell: float, octaves: int = 4) -> Array:
        return cloud(self.rng, CELLS, CELLS, cell, octaves)

    def box(self, walls_mm: Array, high_mm: float, turn: float) -> list[Wall]:
        """Four walls at these distances and a ceiling, seen from the disc."""
        ways = [(np.cos(turn + k * np.pi / 2), np.sin(turn + k * np.pi / 2)) for k in range(4)]
        reach = [far / np.maximum(self.x * c + self.y * s, 1e-4) for far, (c, s) in zip(walls_mm, ways, strict=True)]
        reach.append(high_mm / np.maximum(self.up, 1e-4))
        first = np.argmin(reach, 0)
        faces = []
        for k, (c, s) in enumerate([*ways, ways[0]]):
            at = np.nonzero(first == k)
            x, y, up, far = self.x[at], self.y[at], self.up[at], reach[k][at]
            along, across = far * (x * c + y * s), far * (y * c - x * s)
            faces.append(Wall(at, along, across) if k == CEILING else Wall(at, across, far * up))
        return faces

    def panel(self, face: Wall, aside: tuple[float, float], up: tuple[float, float], soft_mm: float = 6) -> Array:
        """Cover of a rectangle of a face."""
        cover = ramp(-soft_mm, soft_mm, face.aside_mm - aside[0]) * ramp(-soft_mm, soft_mm, aside[1] - face.aside_mm)
        cover = cover * ramp(-soft_mm, soft_mm, face.up_mm - up[0]) * ramp(-soft_mm, soft_mm, up[1] - face.up_mm)
        return np.asarray(cover)

    def round(self, face: Wall, aside_mm: float, up_mm: float, radius_mm: float) -> Array:
        off = np.hypot(face.aside_mm - aside_mm, face.up_mm - up_mm)
        return ramp(1.15, 0.85, off / radius_mm)

    def papered(self, faces: list[Wall], walls: Array, ceiling: Array) -> None:
        """Walls darker towards the floor and the corners, each of its own shade."""
        for face in faces[:CEILING]:
            shade = self.rng.uniform(0.55, 1.1) * (0.72 + 0.3 * ramp(-300, 2400, face.up_mm))
            self.lay_on(face, np.ones_like(shade), walls * shade[:, None])
        ground = np.hypot(faces[CEILING].aside_mm, faces[CEILING].up_mm)
        self.lay_on(faces[CEILING], np.ones_like(ground), ceiling * (1.05 - 0.3 * ramp(0, 4500, ground))[:, None])

    def sky(self, bright: float, clouds: float) -> Array:
        """(cells, cells, 3): paler to the horizon, with clouds."""
        blue = np.array([0.32, 0.55, 1.0]) if clouds < 0.9 else np.array([0.85, 0.92, 1.0])
        haze = (1 - self.up)[..., None] ** 2
        sky = bright * (blue * (1 - haze) + np.array([0.9, 0.95, 1.0]) * haze)
        cover = ramp(0.9 - 2 * clouds, 1.9 - 2 * clouds, self.cloud(150, 5))[..., None]
        shade = (1.0 + 0.22 * self.cloud(90, 4))[..., None]
        return np.asarray(sky * (1 - cover) + cover * bright * 1.25 * shade.clip(0.4))

    def window(self, face: Wall, middle_mm: float, wide_mm: float, sill: float, top: float, bright: float) -> None:
        """Panes with a view: sky above, roofs or trees below, behind a frame and often curtains."""
        left, right = middle_mm - wide_mm / 2, middle_mm + wide_mm / 2
        self.lay_on(
            face, self.panel(face, (left - 70, right + 70), (sill - 60, top + 70)), colour(self.rng, 0.3, 1.0, 0.1)
        )
        outside = self.sky(bright, self.rng.uniform(0.2, 1.1))[face.cells]
        skyline = sill + (top - sill) * (self.rng.uniform(0.05, 0.55) + 0.09 * self.cloud(30)[face.cells])
        dark = bright * colour(self.rng, 0.05, 0.22, 0.3) * np.array([0.9, 1.0, 0.7])
        below = ramp(20, -20, face.up_mm - skyline)[:, None]
        outside = outside * (1 - below) + below * dark * (1 + 0.4 * self.cloud(12)[face.cells])[:, None].clip(0.2)
        panes, rows = int(self.rng.integers(1, 4)), int(self.rng.integers(1, 3))
        for k in range(panes):
            for row in range(rows):
                aside = (left + k * wide_mm / panes + 22, left + (k + 1) * wide_mm / panes - 22)
                up = (sill + row * (top - sill) / rows + 20, sill + (row + 1) * (top - sill) / rows - 20)
                self.lay_on(face, self.panel(face, aside, up), outside)
        drape = self.rng.random()
        if drape < 0.4:
            folds = 1 + 0.35 * np.sin(face.aside_mm / self.rng.uniform(18, 45))
            cloth = bright * colour(self.rng, 0.03, 0.2, 0.5) * folds[:, None]
            for aside in ((left - 200, left + 0.2 * wide_mm), (right - 0.2 * wide_mm, right + 200)):
                self.lay_on(face, 0.93 * self.panel(face, aside, (sill - 700, top + 120)), cloth)
        elif drape < 0.52:
            slats = ramp(-0.2, 0.2, np.sin(2 * np.pi * face.up_mm / 50))
            self.lay_on(face, 0.9 * slats * self.panel(face, (left, right), (sill, top)), np.full(3, 0.16 * bright))

    def furniture(self, face: Wall, level: float, count: int) -> None:
        """Cupboards, doors, pictures and shelves with things on them."""
        for _ in range(count):
            at, wide, high = self.rng.uniform(-2200, 2200), self.rng.uniform(250, 1300), self.rng.uniform(200, 1700)
            low = -800.0 if self.rng.random() < 0.6 else self.rng.uniform(300, 1200)
            paint = level * colour(self.rng, 0.04, 0.9, 0.35)
            self.lay_on(face, self.panel(face, (at, at + wide), (low, max(low + 300, high))), paint)
            if self.rng.random() < 0.5:
                self._boards(face, level, at, wide, low, max(low + 300, high))

    def _boards(self, face: Wall, level: float, at: float, wide: float, low: float, high: float) -> None:
        """Backs of books in rows, each of its own colour."""
        backs = np.stack([level * colour(self.rng, 0.03, 0.7, 0.6) for _ in range(64)])
        row_mm = self.rng.uniform(220, 380)
        row = np.floor((face.up_mm - low) / row_mm)
        which = (np.floor((face.aside_mm - at) / self.rng.uniform(18, 60)) + 7 * row).astype(int) % 64
        filled = (face.up_mm - low) % row_mm < row_mm * (0.55 + 0.3 * (which % 5) / 5)
        self.lay_on(face, filled * self.panel(face, (at + 20, at + wide - 20), (low + 15, high - 15)), backs[which])

    def tubes(self, ceiling: Wall, bright: float, rows: int, gap_mm: float, wide_mm: float, long_mm: float) -> None:
        """Rows of lamps along the ceiling, each `long_mm` long."""
        start = self.rng.uniform(0, gap_mm)
        for k in range(-rows, rows + 1):
            at = start + k * gap_mm
            cover = ramp(-1, 1, (wide_mm / 2 - np.abs(ceiling.aside_mm - at)) / 8)
            lit = (ceiling.up_mm + k * 300) % (long_mm * 1.25) < long_mm
            self.lay_on(ceiling, cover * lit, bright * np.array([0.95, 1.0, 0.96]))

    def glow(self, way: Array, radius: float, radiance: Array) -> None:
        """A round light in a direction (2,) of sines, softened over a cell so that none falls between cells."""
        off = np.hypot(self.x - way[0], self.y - way[1])
        least = max(radius, 2.0 / CELLS)
        gain = (radius / least) ** 2
        cover = ramp(1.3, 0.7, off / least)
        self.light += (cover[..., None] * radiance * gain).astype(np.float32)
