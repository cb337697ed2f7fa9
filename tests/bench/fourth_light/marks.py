"""Lays lines, cracks, dust, hairs and a sticker over the disc's picture, each as seen and as mirrored in the metal."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.areas import Hair
from bench.other_light.chance import Rng, wander
from bench.other_light.optics import Array
from bench.other_light.view import through

from .cracks import Crack
from .grooves import walls
from .ground import Ground
from .lines import Line, across, even
from .optics import twin_shift_mm
from .strokes import stroke

KNOT_MM = 0.35


class Marks:
    """Paints on `picture`, the window of a photograph (rows, columns, 3)."""

    def __init__(self, rng: Rng, ground: Ground, picture: Array) -> None:
        self.rng, self.ground, self.picture = rng, ground, picture
        self.bare = picture.copy()
        self.px_mm = 1 / float(np.median(ground.px_per_mm))

    def px(self, points_mm: Array) -> Array:
        return np.asarray(through(self.ground.window.to_window, points_mm))

    def _bare_at(self, points_mm: Array) -> Array:
        column, row = np.round(self.px(points_mm)).astype(int).T
        return np.asarray(self.bare[row.clip(0, self.bare.shape[0] - 1), column.clip(0, self.bare.shape[1] - 1)])

    def _width_px(self, path_mm: Array, width_mm: Array) -> Array:
        """Across the path, as the view foreshortens it."""
        step = 0.02 * across(path_mm)
        return np.asarray(np.linalg.norm(self.px(path_mm + step) - self.px(path_mm), axis=1) / 0.02 * width_mm)

    def shifted(self, path_mm: Array) -> Array:
        """Where the path's mirror image is seen."""
        to_eye, _ = self.ground.rays(path_mm)
        return np.asarray(path_mm + twin_shift_mm(to_eye, self.ground.disc.clear_mm))

    def _lay(self, path_mm: Array, width_px: Array, left: Array, right: Array, dense: float) -> None:
        """A band of light that goes from `left` (n, 3) to `right` (n, 3) across it, over `dense` of what is there."""
        band = stroke(self.px(path_mm), width_px, self.picture.shape[:2])
        share = ((band.side + 1) / 2)[:, None]
        light = right[band.point] * (1 - share) + left[band.point] * share
        cover = (band.cover * dense)[:, None]
        here = self.picture[band.rows, band.columns]
        self.picture[band.rows, band.columns] = here * (1 - cover) + light * cover

    def line(self, line: Line) -> tuple[Array, Array, Array, Array]:
        """Paints one; for its contrast: own and bare light (n, 3), share of a pixel (n,), which points count (n,)."""
        knots, at_knots = even(line.path_mm, KNOT_MM)
        lights = walls(self.rng, self.ground, line, knots, self._bare_at(knots))
        path, at = even(line.path_mm, 0.7 * self.px_mm)
        deep = np.interp(at, np.linspace(0, 1, len(line.depths)), line.depths)
        width = self._width_px(path, line.width_mm * deep)
        left, right = (np.stack([np.interp(at, at_knots, wall[:, band]) for band in range(3)], 1) for wall in lights)
        twin = self.shifted(path)
        radius = np.hypot(*twin.T)
        on_metal = (radius > self.ground.disc.metal_mm[0]) & (radius < self.ground.disc.metal_mm[1])
        mean = (left + right) / 2
        self._lay(twin, width * on_metal, mean * 0.85, mean * 0.85, 0.6)
        self._lay(path, width, left, right, 1.0)
        place = self.px(path)
        seen = (
            (place > 0).all(1)
            & (place < np.array(self.picture.shape[1::-1]) - 1).all(1)
            & (deep > 0.1)
            & ~self._stuck_over(path)
        )
        return mean, self._bare_at(path), width.clip(0, 1), seen

    def _stuck_over(self, path_mm: Array) -> Array:
        """Which points lie under the sticker, a rectangle."""
        corners = self.ground.disc.sticker_mm
        if corners is None:
            return np.zeros(len(path_mm), bool)
        sides = np.stack([corners[1] - corners[0], corners[3] - corners[0]])
        share = (path_mm - corners[0]) @ sides.T / (sides**2).sum(1)
        return np.asarray(((share > 0) & (share < 1)).all(1))

    def crack(self, crack: Crack) -> None:
        """The broken face shines or not as it turns; beside it the dark gap; both again in the metal."""
        path, at = even(crack.path_mm, 0.7 * self.px_mm)
        count, white = len(path), self.ground.around.falls / np.pi
        width = np.interp(at, np.linspace(0, 1, len(crack.width_mm)), crack.width_mm)
        taper = (1 - at) ** 0.5 * np.exp(0.3 * wander(self.rng, count, max(4, count // 40)))
        face_mm = np.abs(crack.face_mm) * taper
        aside = across(path) * np.sign(crack.face_mm)
        turns = 0.7 * wander(self.rng, count, max(4, count // 15)) + 0.5 * wander(self.rng, count, max(4, count // 3))
        glitter = np.exp(turns - 0.3)[:, None] * white
        bare = self._bare_at(path)
        near = 0.35 * bare + 0.75 * glitter
        far = 0.7 * bare + 0.15 * glitter
        left, right = (near, far) if crack.face_mm < 0 else (far, near)
        middle = path + aside * (face_mm / 2)[:, None]
        for shift, dense in ((self.shifted(path) - path, 0.45), (np.zeros_like(path), 0.85)):
            self._lay(middle + shift, self._width_px(path, face_mm), left, right, dense)
            self._lay(path + shift, self._width_px(path, width), bare * 0.12, bare * 0.12, dense)
        bright = path - aside * (width / 2)[:, None]
        self._lay(bright, self._width_px(path, 0.04 + 0 * width), 1.5 * glitter, 1.5 * glitter, 0.7)

    def dust(self) -> None:
        """Grains and hairs: grey or coloured in the room's light, and dark below them in the metal."""
        disc, white = self.ground.disc, self.ground.around.falls / np.pi
        for outline, dense in disc.specks:
            hue = white * self.rng.uniform(0.25, 0.85) * (1 + 0.15 * self.rng.uniform(-1, 1, 3))
            for points, light, share in ((self.shifted(outline), 0.1 * hue, 0.4 * dense), (outline, hue, dense)):
                self._patch(self.px(points), light, share)
        for hair in disc.hairs:
            self._hair(hair, white)

    def _hair(self, hair: Hair, white: Array) -> None:
        path, _ = even(hair.path_mm, 0.7 * self.px_mm)
        hue = white * (self.rng.uniform(0.02, 0.15) if self.rng.random() < 0.5 else self.rng.uniform(0.4, 0.9))
        width = self._width_px(path, np.full(len(path), hair.width_mm))
        light = np.repeat(hue[None, :], len(path), 0)
        self._lay(self.shifted(path), width, light * 0.2, light * 0.2, 0.35 * hair.opacity)
        self._lay(path, width, light, light * 0.8, hair.opacity)

    def _patch(self, outline_px: Array, light: Array, dense: float) -> None:
        """A small even patch, its border true to an eighth of a pixel."""
        low = np.floor(outline_px.min(0)).astype(int) - 1
        size = np.ceil(outline_px.max(0)).astype(int) + 2 - low
        height, width = self.picture.shape[:2]
        if (low < 0).any() or low[0] + size[0] > width or low[1] + size[1] > height:
            return
        fine = np.zeros((size[1] * 8, size[0] * 8), np.float32)
        cv2.fillPoly(fine, [np.round(((outline_px - low + 0.5) * 8 - 0.5) * 16).astype(np.int32)], 1.0, cv2.LINE_8, 4)
        cover = dense * cv2.resize(fine, (int(size[0]), int(size[1])), interpolation=cv2.INTER_AREA)[..., None]
        here = self.picture[low[1] : low[1] + size[1], low[0] : low[0] + size[0]]
        here[:] = here * (1 - cover) + light * cover

    def sticker(self) -> None:
        """A price label of paper with made-up figures."""
        corners = self.ground.disc.sticker_mm
        if corners is None:
            return
        paper = np.full((120, 200, 3), self.rng.uniform(0.5, 0.85), np.float32)
        paper *= (1 + 0.4 * self.rng.uniform(-1, 0, 3) * (self.rng.random() < 0.6)).astype(np.float32)
        for number in range(4):
            points = self.rng.integers([20 + 42 * number, 25], [50 + 42 * number, 95], (5, 2)).astype(np.int32)
            cv2.polylines(paper, [points], False, (0.06, 0.06, 0.08), 6, cv2.LINE_AA)
        frame = np.array([[0, 0], [199, 0], [199, 119], [0, 119]], np.float32)
        warp = cv2.getPerspectiveTransform(frame, self.px(corners).astype(np.float32))
        size = self.picture.shape[1::-1]
        cover = cv2.warpPerspective(np.ones((120, 200), np.float32), warp, size)[..., None]
        light = cv2.warpPerspective(paper, warp, size) * (self.ground.around.falls / np.pi).astype(np.float32)
        self.picture[:] = self.picture * (1 - cover) + light * cover
