"""The picture of a disc without lines: mirror, rainbow, clear hub, grease, parted layers, moulded rings."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from .areas import HOLE_MM
from .chance import Rng, ramp
from .disc import Disc
from .optics import Array, fresnel, layer_shift_mm, rgb
from .person import Light
from .view import View, ellipse_px

COARSE_PX = 480
"""So many points across the disc is reckoned what changes slowly over it; between them it is interpolated."""
FRINGE_NM = rgb(610, 545, 460)


@dataclass(frozen=True)
class Patch:
    """The part of the photograph with the disc in it; arrays are (rows, columns, ...)."""

    x0: int
    y0: int
    picture: Array
    """A view into the photograph's linear light: what is painted here is in the photograph."""
    points_mm: Array
    to_eye: Array
    mirror: Array
    """What a mirror in the disc's plane shows."""
    dull: Array
    """What a dull surface there shows."""
    px_mm: float
    """Size of a pixel on the disc."""


def patch_of(picture: Array, light: Light, disc: Disc, view: View) -> Patch:
    turn = np.linspace(0, 2 * np.pi, 100)
    border = view.px((disc.rim_mm + 3) * np.stack([np.cos(turn), np.sin(turn)], 1))
    x0, y0 = np.maximum(np.floor(border.min(0)).astype(int), 0)
    x1, y1 = np.minimum(np.ceil(border.max(0)).astype(int) + 1, [view.width_px, view.height_px])
    points = view.mm(np.arange(x0, x1), np.arange(y0, y1))
    flat, away = _coarse(view, (x0, y0, x1, y1))
    size = (x1 - x0, y1 - y0)
    mirror = light.from_side(flat.reshape(-1, 2), -away[..., :2].reshape(-1, 2)).reshape(*flat.shape[:2], 3)
    soft = light.from_side(flat.reshape(-1, 2), -away[..., :2].reshape(-1, 2), soft=True).reshape(mirror.shape)
    return Patch(
        int(x0),
        int(y0),
        picture[y0:y1, x0:x1],
        points,
        _enlarged(away, size),
        _enlarged(mirror, size).clip(0),
        _enlarged(0.75 * soft + 0.25 * light.lit, size).clip(0),
        2 * disc.rim_mm / ellipse_px(view.homography, disc.rim_mm)["axis_major"],
    )


def _coarse(view: View, box: tuple[int, int, int, int]) -> tuple[Array, Array]:
    """Points (rows, columns, 2) spread over a box of the photograph, and the ways from them to the eye."""
    x0, y0, x1, y1 = box
    step = max(1.0, (x1 - x0) / COARSE_PX)
    columns, rows = int((x1 - x0) / step) + 1, int((y1 - y0) / step) + 1
    points = view.mm(
        x0 + (np.arange(columns) + 0.5) * (x1 - x0) / columns - 0.5,
        y0 + (np.arange(rows) + 0.5) * (y1 - y0) / rows - 0.5,
    )
    return points, view.to_eye(points.reshape(-1, 2)).reshape(rows, columns, 3)


def _enlarged(image: Array, size: tuple[int, int]) -> Array:
    return np.asarray(cv2.resize(image.astype(np.float32), size, interpolation=cv2.INTER_CUBIC))


class Surface:
    """Paints the disc into its patch."""

    def __init__(self, rng: Rng, patch: Patch, light: Light, disc: Disc, view: View) -> None:
        self.rng, self.patch, self.light, self.disc, self.view = rng, patch, light, disc, view
        self.radius = np.hypot(patch.points_mm[..., 0], patch.points_mm[..., 1])
        self.shift = layer_shift_mm(patch.to_eye, disc.clear_mm).astype(np.float32)
        self.below = patch.points_mm - self.shift  # where the line of sight meets the mirror
        self.below_radius = np.hypot(self.below[..., 0], self.below[..., 1])

    def paint(self) -> None:
        patch = self.patch
        through_hub = patch.picture * self.rng.uniform(0.6, 0.85) * self.disc.hub
        hub = through_hub + self.rng.uniform(0.01, 0.06) * patch.dull + 0.02 * self.light.lit
        metal = self._between(*self.disc.metal_mm, self.below_radius)
        inside = metal * self._parted(self._metal()) + (1 - metal) * hub
        inside, top = self._greasy(inside)
        mirrored = fresnel(patch.to_eye[..., 2:])
        seen = self._rings(mirrored * top + (1 - mirrored) ** 2 * inside)
        there = self._between(HOLE_MM, self.disc.rim_mm, self.radius)
        patch.picture[:] = patch.picture * (1 - there) + there * seen

    def _between(self, low_mm: float, high_mm: float, radius: Array) -> Array:
        """1 between two radii, (rows, columns, 1); the edges are as soft as a pixel."""
        half = 0.7 * self.patch.px_mm
        rising, falling = ramp(low_mm - half, low_mm + half, radius), ramp(high_mm + half, high_mm - half, radius)
        return np.asarray(rising * falling)[..., None]

    def _layer(self, name: str, points_mm: Array) -> Array | None:
        """A layer of the flat grid, seen at points, (rows, columns, 1)."""
        layer = self.disc.flat.layers.get(name)
        if layer is None:
            return None
        at = self.disc.flat.cells(points_mm).astype(np.float32)
        return np.asarray(cv2.remap(layer, at[..., 0], at[..., 1], cv2.INTER_LINEAR))[..., None]

    def _metal(self) -> Array:
        """The reflector with its grating, as it was made."""
        disc, patch = self.disc, self.patch
        size = patch.picture.shape[1], patch.picture.shape[0]
        box = (patch.x0, patch.y0, patch.x0 + size[0], patch.y0 + size[1])
        grid, ways = _coarse(self.view, box)
        points, away = grid.reshape(-1, 2), ways.reshape(-1, 3)
        radius = np.hypot(*points.T)
        there = (radius > 18) & (radius < disc.rim_mm + 2)
        fan = np.zeros((len(points), 3), np.float32)
        radial = (points / radius[:, None].clip(1))[there]
        fan[there] = self.light.rainbow(points[there], -away[there, :2], radial, disc.pitch_nm, disc.orders)
        fan = _enlarged(fan.reshape(ways.shape), size).clip(0)
        tracks = self._between(disc.tracks_from_mm, disc.metal_mm[1] - 0.2, self.below_radius)
        written = self._between(*disc.recorded_mm, self.below_radius)
        shade = disc.reflectance * (1 + (disc.recorded_shade - 1) * written)
        mirror = patch.mirror * (1 - tracks * (1 - disc.straight)) + fan * tracks * (0.85 + 0.3 * written)
        return np.asarray(shade * mirror + disc.reflectance * 0.012 * patch.dull)

    def _parted(self, metal: Array) -> Array:
        """The reflector where layers have parted from it."""
        patch, lit = self.patch, self.light.lit
        stain, fringes, gap, milky, lost = (
            self._layer(name, self.below) for name in ("stain", "fringes", "gap_um", "milky", "lost")
        )
        if stain is not None:
            brown = 1 - rgb(0.5, 0.34, 0.18)
            metal = metal * (1 - stain * brown) + stain * 0.05 * patch.dull
        if fringes is not None and gap is not None:
            # two faces with air between: 2 gap cos(theta) of way between their reflections (textbook)
            phase = 4 * np.pi * gap * 1000 / FRINGE_NM * patch.to_eye[..., 2:]
            waves = 0.5 - 0.5 * np.cos(phase) * np.exp(-gap / 3)
            metal = metal * (1 - 0.85 * fringes) + fringes * (patch.mirror * (0.11 + 0.6 * waves) + 0.06 * patch.dull)
        if milky is not None:
            white = self.rng.uniform(0.12, 0.4) * lit + self.rng.uniform(0.2, 0.5) * patch.dull
            metal = metal * (1 - 0.8 * milky) + milky * white
        if lost is not None:
            metal = metal * (1 - lost) + lost * 0.6 * self.disc.printed * lit
        return np.asarray(metal)

    def _greasy(self, inside: Array) -> tuple[Array, Array]:
        """What lies below the top face and what the top face mirrors, both with grease on it."""
        patch = self.patch
        grease = self._layer("grease", patch.points_mm)
        twin = self._layer("grease", patch.points_mm - 2 * self.shift)
        if grease is None or twin is None:
            return inside, patch.mirror
        inside = inside * (1 - grease) + grease * patch.dull * (0.30 + 0.45 * self.disc.reflectance)
        inside = inside * (1 - 0.6 * twin) + 0.6 * twin * patch.dull * (0.2 + 0.35 * self.disc.reflectance)
        return inside, patch.mirror * (1 - 0.7 * grease) + 0.7 * grease * patch.dull

    def _rings(self, seen: Array) -> Array:
        """Moulded rings and the two edges: slopes about the centre."""
        patch = self.patch
        for ring_mm, wide_mm, slope in self.disc.rings:
            off = self.radius - ring_mm
            near = np.abs(off) < wide_mm / 2 + patch.px_mm
            points, away = patch.points_mm[near], patch.to_eye[near]
            outwards = points / self.radius[near][:, None].clip(1)
            half = wide_mm / 2 + 0.7 * patch.px_mm
            cover = np.clip((half - np.abs(off[near])) / (1.4 * patch.px_mm), 0, 1)[:, None]
            # thinner than a few pixels, a ring shows all its slopes at once
            parts = (
                np.linspace(-0.43, 0.43, 7)[:, None]
                if wide_mm < 4 * patch.px_mm
                else (off[near] / wide_mm).clip(-0.5, 0.5)[None]
            )
            shown = np.zeros((len(points), 3), np.float32)
            for part in parts:
                rise = 2 * slope * np.sin(2 * np.pi * part)
                shown += self.light.from_side(points, -away[:, :2] + rise[:, None] * outwards) / len(parts)
            share = 0.35 if ring_mm > self.disc.rim_mm - 0.5 else 0.12
            seen[near] = seen[near] * (1 - cover * (share + 0.15)) + cover * (share * shown + 0.12 * patch.dull[near])
        return seen
