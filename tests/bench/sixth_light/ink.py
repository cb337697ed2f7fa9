"""Thin things on the disc's face: scratches and their images in the mirror, cracks, dust, a sticker."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.chance import Rng, cloud, colour, wander
from bench.other_light.lines import length_mm
from bench.other_light.optics import Array
from bench.other_light.view import View

from .breaks import THICK_MM, Crack
from .face import Face
from .light import INDEX, depth_shift_mm
from .makes import Disc
from .panorama import Panorama
from .strokes import Stroke

GREY = np.array([0.2126, 0.7152, 0.0722])
BLOCK = 5
"""So many points along a line share one look into the room."""
SLOPES, WEIGHTS = (0.35, 0.8, 1.25, 1.9), (0.25, 0.3, 0.3, 0.15)
"""A wall is rounded: shares of its slope, and of its width that has them."""
LEAST_GROUND = 0.02


@dataclass(frozen=True)
class Points:
    """Places along lines, each line's a multiple of BLOCK."""

    mm: Array
    """(n, 2)"""
    across: Array
    """(n, 2) unit vectors."""
    depth: Array
    line: Array
    step_mm: Array


def walked(lines: list[Stroke], step_mm: float) -> Points:
    """Even steps along each line."""
    parts = []
    for number, line in enumerate(lines):
        path = line.path_mm
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
        count = BLOCK * max(1, int(np.ceil(along[-1] / step_mm / BLOCK)))
        at = (np.arange(count) + 0.5) / count * along[-1]
        mm = np.stack([np.interp(at, along, path[:, k]) for k in (0, 1)], 1)
        way = np.gradient(mm, axis=0)
        way /= np.linalg.norm(way, axis=1, keepdims=True).clip(1e-9)
        depth = np.interp(at / along[-1], np.linspace(0, 1, len(line.depths)), line.depths)
        across = np.stack([-way[:, 1], way[:, 0]], 1)
        parts.append((mm, across, depth, np.full(count, number), np.full(count, along[-1] / count)))
    return Points(*(np.concatenate(part) for part in zip(*parts, strict=True)))


class Ink:
    """Draws on one face; what overlaps is laid on once."""

    def __init__(self, rng: Rng, disc: Disc, face: Face, room: Panorama, view: View, exposure: float) -> None:
        self.rng, self.disc, self.face, self.room, self.view, self.exposure = rng, disc, face, room, view, exposure

    def _eye(self, mm: Array) -> Array:
        return self.view.to_eye(mm)[:, :2]

    def _lay(self, mm: Array, area_mm2: Array, change: Array) -> None:
        """Adds changes of radiance (n, 3) of small patches to the pixels that they lie in."""
        height, width = self.face.light.shape[:2]
        px = self.view.px(mm) - np.array(self.face.corner)
        cover = area_mm2 * self.view.px_per_mm2(mm)
        first = np.floor(px).astype(int)
        share = px - first
        total = np.zeros((4, height * width))
        for right in (0, 1):
            for down in (0, 1):
                column, row = first[:, 0] + right, first[:, 1] + down
                weight = cover * np.abs(1 - right - share[:, 0]) * np.abs(1 - down - share[:, 1])
                inside = (column >= 0) & (row >= 0) & (column < width) & (row < height)
                cell = (row * width + column)[inside]
                for k in range(4):
                    values = weight[inside] * (change[inside, k] if k < 3 else 1)
                    total[k] += np.bincount(cell, values, height * width)
        added = total[:3] / np.maximum(1, total[3])
        self.face.light += added.T.reshape(height, width, 3).astype(np.float32)
        np.maximum(self.face.light, 0, out=self.face.light)

    def _walls(self, mm: Array, mirror: Array, across: Array, slope: Array) -> tuple[Array, Array]:
        """What a sloping wall mirrors, and what the mirror shows through it, less what a flat face would: (n, 3)."""
        plain = self.room.look(mm, mirror, 2)
        mirrored, bent = -plain, -plain
        for times, weight in zip(SLOPES, WEIGHTS, strict=True):
            tilt = (times * slope)[:, None] * across
            mirrored = mirrored + weight * self.room.look(mm, mirror + 2 * tilt / np.hypot(1, tilt), 2)
            bent = bent + weight * self.room.look(mm, mirror + (INDEX - 1) * tilt, 2)
        return mirrored, bent

    def _torn(self, mm: Array, mirror: Array, across: Array) -> Array:
        """Of torn faces: in part as of matt paper, the rest spread in the plane across; half of all is lost."""
        fan = sum(self.room.look(mm, mirror + reach * across, 3) for reach in (-0.7, -0.35, 0.0, 0.35, 0.7))
        return np.asarray(0.2 * self.face.at(self.face.white, self.view.px(mm)) + 0.045 * fan)

    def strokes(self, rng: Rng) -> list[float]:
        """Draws the disc's lines; returns the contrast of each."""
        lines, face = self.disc.lines, self.face
        if not lines:
            return []
        points = walked(lines, max(0.02, 0.6 * face.px_mm))
        node = slice(0, None, BLOCK)
        mm, across = points.mm[node].astype(np.float32), points.across[node].astype(np.float32)
        px, eye = self.view.px(mm), self._eye(mm)
        away = depth_shift_mm(eye, 2 * self.disc.clear_mm)
        ground, top, straight = (face.at(part, px) for part in (face.light, face.top, face.straight))
        far_straight = face.at(face.straight, self.view.px(mm + away))
        slope, torn = (
            np.array([getattr(line, name) for line in lines])[points.line[node]] for name in ("slope", "torn")
        )
        steep = slope * np.exp(0.25 * rng.standard_normal(len(mm))) * (0.5 + 0.5 * points.depth[node])
        shaded, rough = steep.clip(0, 1)[:, None], torn[:, None]
        mirror = -eye + 2 * (mm / 60) @ self.disc.bowl.T.astype(np.float32)
        plain, scattered = self.room.look(mm, mirror, 2), self._torn(mm, mirror, across)
        changes, twins = [], []
        for sign in (1, -1):
            mirrored, bent = self._walls(mm, mirror, across, sign * steep)
            smooth = top * mirrored + straight * (bent - 0.9 * shaded * plain)  # steep walls shade each other
            changes.append(np.maximum((1 - rough) * smooth + rough * (scattered - 0.7 * ground), -0.95 * ground))
            twins.append(far_straight * ((1 - rough) * bent - (0.5 * rough + 0.3 * shaded) * plain))
        self._lay_walls(points, changes, twins, away)
        return self._contrasts(points, px, ground, changes)

    def _lay_walls(self, points: Points, changes: list[Array], twins: list[Array], away: Array) -> None:
        """Both walls, the lips beside them, which slope as the wall over against them does, and all in the mirror."""
        lines = self.disc.lines
        width, lip = (np.array([getattr(line, name) for line in lines])[points.line] for name in ("width_mm", "lip"))
        width = width * points.depth * (points.depth > 0.05)
        every = np.arange(len(points.mm)) // BLOCK
        strips = max(1, int(np.ceil(width.max() / 2 / self.face.px_mm)))
        where, area, change = [], [], []
        for side in (0, 1):
            for start, wide, gain, which in ((0.0, 0.5, 1.0, side), (0.5, lip, 0.6, 1 - side)):
                for k in range(strips):
                    off = (2 * side - 1) * (start + wide * (k + 0.5) / strips) * width
                    at = points.mm + off[:, None] * points.across
                    where += [at + away[every], at]
                    area += [wide / strips * width * points.step_mm] * 2
                    change += [gain * twins[which][every], gain * changes[which][every]]
        self._lay(np.concatenate(where), np.concatenate(area), np.concatenate(change))

    def _contrasts(self, points: Points, px: Array, ground: Array, changes: list[Array]) -> list[float]:
        """See the package's docstring."""
        node = slice(0, None, BLOCK)
        bare = (self.exposure * ground).clip(0, 1) @ GREY
        walls = [(self.exposure * (ground + change)).clip(0, 1) @ GREY - bare for change in changes]
        number = points.line[node]
        wide = np.array([line.width_mm for line in self.disc.lines])[number] > 1.5 * self.face.px_mm
        apart = (np.abs(walls[0]) + np.abs(walls[1])) / 2
        change = np.where(wide, apart, np.abs(walls[0] + walls[1]) / 2) / np.maximum(bare, LEAST_GROUND)
        size = np.array([self.view.width_px, self.view.height_px]) - 1
        counts = (points.depth[node] > 0.1) & (px >= 0).all(1) & (px <= size).all(1)
        own = [change[counts & (number == line)] for line in range(len(self.disc.lines))]
        return [float(min(1, np.median(part))) if len(part) else 0.0 for part in own]

    def crack(self, crack: Crack) -> None:
        """The gap, its image in the mirror, and below it the broken face, which mirrors what is far aside."""
        path, face, rng = crack.path_mm, self.face, self.rng
        line = Stroke("crack", "crack", path[:, :2], 0.1, 0.5, np.ones(9), 0, 0)
        points = walked([line], max(0.02, 0.5 * face.px_mm))
        mm, count = points.mm.astype(np.float32), len(points.mm)
        gap = np.interp(np.linspace(0, 1, count), np.linspace(0, 1, len(path)), path[:, 2])
        eye = self._eye(mm)
        ground, top = face.at(face.light, self.view.px(mm)), face.at(face.white, self.view.px(mm))
        bend = np.sign(crack.lean) * (0.55 + 0.2 * wander(rng, count, max(3, int(length_mm(path[:, :2]) / 2))))
        aside = self.room.look(mm, -eye + bend[:, None] * points.across, 2)
        glint = (0.5 + 0.5 * wander(rng, count, max(4, count // 12))).clip(0, 1.4)[:, None]
        core = glint**2 * (0.7 * aside + 0.3 * top) + 0.08 * ground - ground
        depths = (np.arange(int(THICK_MM / face.px_mm * 2) + 2) + 0.5) / (int(THICK_MM / face.px_mm * 2) + 2) * THICK_MM
        hackles = cloud(rng, len(depths), count, max(3.0, 0.8 / face.px_mm), 4)
        fade = np.interp(np.linspace(0, 1, count), [0, 0.85, 1], [1, 1, 0.2])
        where, area, change = [], [], []
        for depth, hackle in zip(depths, hackles, strict=True):
            shift = depth * crack.lean * points.across + depth_shift_mm(eye, depth)
            wide = np.abs((shift * points.across).sum(1)) / depth * (depths[1] - depths[0])
            seen = crack.shine * fade * (0.75 + 0.35 * hackle).clip(0, 1)
            at = mm + shift
            here = face.at(face.light, self.view.px(at))
            mirrored = (0.75 + 0.4 * hackle)[:, None].clip(0.05) * (0.85 * aside + 0.12 * top)
            where.append(at)
            area.append(wide * points.step_mm)
            change.append(seen[:, None] * (mirrored - here))
        away = depth_shift_mm(eye, 2 * self.disc.clear_mm)
        self._lay(np.concatenate(where), np.concatenate(area), np.concatenate(change))
        self._lay(mm + away, 0.7 * gap * points.step_mm, 0.5 * core)
        strips = max(1, int(np.ceil(gap.max() / face.px_mm)))
        for k in range(strips):
            off = ((k + 0.5) / strips - 0.5) * gap
            self._lay(mm + off[:, None] * points.across, gap / strips * points.step_mm, core)

    def dust(self) -> None:
        """Specks and hairs: matt, and once more as shades in the mirror."""
        face, disc = self.face, self.disc
        paint = colour(self.rng, 0.35, 0.8, 0.08)
        for shifted in (True, False):
            cover = np.zeros(face.light.shape[:2], np.uint8)
            for outline, opacity in disc.specks:
                self._fill(cover, outline, opacity, shifted)
            for hair in disc.hairs:
                at = self._px16(hair.path_mm, shifted)
                wide = hair.width_mm / face.px_mm
                shade = int(255 * hair.opacity * min(1, wide * 1.2))
                cv2.polylines(cover, [at], False, shade, max(1, round(wide)), cv2.LINE_AA, 4)
            share = cover.astype(np.float32)[..., None] / 255
            if shifted:
                face.light -= 0.5 * share * face.straight * self.room.levels[3].mean((0, 1))
                np.maximum(face.light, 0, out=face.light)
            else:
                face.light += share * (paint * face.white - face.light)

    def _px16(self, mm: Array, shifted: bool) -> Array:
        at = mm + depth_shift_mm(self._eye(mm), 2 * self.disc.clear_mm) if shifted else mm
        return np.asarray(np.round((self.view.px(at) - np.array(self.face.corner)) * 16), np.int32)

    def _fill(self, cover: Array, outline: Array, opacity: float, shifted: bool = False) -> None:
        size_px = float(cv2.contourArea(outline.astype(np.float32))) / self.face.px_mm**2
        shade = int(255 * opacity * min(1, size_px + 0.05))
        cv2.fillPoly(cover, [self._px16(outline, shifted)], shade, cv2.LINE_AA, 4)

    def sticker(self) -> None:
        if self.disc.sticker_mm is not None:
            cover = np.zeros(self.face.light.shape[:2], np.uint8)
            self._fill(cover, self.disc.sticker_mm, 1.0)
            paper = colour(self.rng, 0.5, 0.9, 0.1) * self.face.white
            self.face.light += cover.astype(np.float32)[..., None] / 255 * (paper - self.face.light)
