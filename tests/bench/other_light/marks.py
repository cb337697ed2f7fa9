"""Lines, cracks and dust, painted on the picture of a disc piece by piece."""

from __future__ import annotations

import cv2
import numpy as np

from .chance import Rng, wander
from .disc import Disc
from .lines import Facets, Line, facets, length_mm, resampled, sideways_of
from .optics import REFRACTIVE_INDEX, Array, fresnel, layer_shift_mm, mirrored, refracted_in, refracted_out, rgb
from .person import Light
from .room import picked
from .surface import Patch
from .view import View

GREY = rgb(0.25, 0.6, 0.15)
SCATTER = 2.2
"""Light that a rough groove sends to the eye, as compared with white paper, which has no edges to glint."""
THICK_MM = 1.2
"""Of a whole disc (ECMA-267, 10.1; about the same of CD and BD)."""


class Splat:
    """Gathers small pieces of light, each shared among four pixels; those that cover a pixel twice are averaged."""

    def __init__(self, patch: Patch) -> None:
        self.patch = patch
        self.height, self.width = patch.picture.shape[:2]
        self.light = np.zeros((4, self.height * self.width))

    def add(self, px: Array, cover: Array, light: Array) -> None:
        """Pieces at photo pixels (n, 2) that cover so many pixels (n,) each, with light (n, 3)."""
        x, y = px[:, 0] - self.patch.x0, px[:, 1] - self.patch.y0
        ok = (x >= 0) & (y >= 0) & (x < self.width - 1.001) & (y < self.height - 1.001) & (cover > 0)
        x, y, cover, light = x[ok], y[ok], cover[ok], light[ok]
        left, top = x.astype(int), y.astype(int)
        for right, down in ((0, 0), (1, 0), (0, 1), (1, 1)):
            share = cover * np.abs(1 - right - (x - left)) * np.abs(1 - down - (y - top))
            cell = (top + down) * self.width + left + right
            for band, value in enumerate((*light.T, 1.0)):
                np.add.at(self.light[band], cell, share * value)

    def paint(self) -> None:
        total = self.light.T.reshape(self.height, self.width, 4)
        cover = total[..., 3:]
        self.patch.picture[:] = self.patch.picture * (1 - cover.clip(0, 1)) + total[..., :3] / cover.clip(1)


class Marks:
    """Paints what lies on and in the top face."""

    def __init__(self, rng: Rng, patch: Patch, light: Light, disc: Disc, view: View) -> None:
        self.rng, self.patch, self.light, self.disc, self.view = rng, patch, light, disc, view
        self.bare = patch.picture.copy()

    def _bare_at(self, px: Array) -> Array:
        return picked(self.bare, px[:, 0] - self.patch.x0, px[:, 1] - self.patch.y0)

    def _metal_at(self, points_mm: Array) -> Array:
        radius = np.hypot(*points_mm.T)
        return np.asarray((radius > self.disc.metal_mm[0]) & (radius < self.disc.metal_mm[1]))

    def _layer(self, points_mm: Array, sideways: Array) -> Array:
        """What the mirror layer sends out of a flat top face, and the bare hub where there is none."""
        metal, radius = self._metal_at(points_mm), np.hypot(*points_mm.T)
        tracks = metal & (radius > self.disc.tracks_from_mm)
        seen = self.light.from_side(points_mm, sideways) * np.where(tracks, self.disc.straight, 1)[:, None]
        first = {order: share for order, share in self.disc.orders.items() if abs(order) == 1}
        if tracks.any():
            radial = (points_mm / radius[:, None].clip(1))[tracks]
            seen[tracks] += self.light.rainbow(
                points_mm[tracks], sideways[tracks], radial, self.disc.pitch_nm, first, 5
            )
        return np.where(metal[:, None], seen * self.disc.reflectance, self._bare_at(self.view.px(points_mm)))

    def lines(self) -> list[float]:
        """Paints all lines; returns of each how much it changes the light of what it covers, as a share of that."""
        splat = Splat(self.patch)
        contrasts = [self._line(splat, line) for line in self.disc.lines]
        splat.paint()
        return contrasts

    def _line(self, splat: Splat, line: Line) -> float:
        pieces = facets(self.rng, line, self.patch.px_mm)
        points, to_eye = pieces.points_mm, self.view.to_eye(pieces.points_mm)
        px = self.view.px(points)
        bare, scattered = self._bare_at(px), self._scattered(pieces, to_eye)
        flipped, sight = mirrored(to_eye, pieces.normals), refracted_in(to_eye, pieces.normals)
        surface = fresnel((to_eye * pieces.normals).sum(1))[:, None]
        glint = np.where(flipped[:, 2:] > 0.02, self.light.from_side(points, flipped[:, :2]), 0.3 * bare)
        below = self._layer(points, (REFRACTIVE_INDEX * sight[:, :2]).astype(np.float32))
        seen = surface * glint + (1 - surface) * ((1 - line.rough) * below + line.rough * 0.6 * scattered)
        splat.add(px, pieces.areas_mm2 * self.view.px_per_mm2(points), seen)
        self._twin(splat, line, pieces, to_eye, scattered)
        return self._contrast(line, pieces, seen, bare)

    def _scattered(self, pieces: Facets, to_eye: Array) -> Array:
        """From a rough face: half as of matt paper, half spread in the plane across the groove."""
        across = pieces.normals[:, :2] / np.linalg.norm(pieces.normals[:, :2], axis=1, keepdims=True).clip(1e-9)
        angle = self.rng.uniform(-0.95, 0.95, (len(across), 1))
        fan = mirrored(to_eye, np.column_stack([across * np.sin(angle), np.cos(angle)]))
        spread = self.light.from_side(pieces.points_mm, fan[:, :2]) * (fan[:, 2:] > 0.03)
        facing = pieces.normals @ np.append(0.6 * self.light.room.lean, 1)
        matt = 0.55 * self.light.lit * facing[:, None].clip(0.2, 2) + 0.35 * self.light.lit
        return np.asarray(SCATTER * (0.55 * spread + 0.45 * matt))

    def _twin(self, splat: Splat, line: Line, pieces: Facets, to_eye: Array, scattered: Array) -> None:
        """The line once more, from below, in the mirror layer."""
        up = np.column_stack([-to_eye[:, :2], REFRACTIVE_INDEX * np.ones(len(to_eye))])
        up[:, 2] = np.sqrt(REFRACTIVE_INDEX**2 - (to_eye[:, :2] ** 2).sum(1))
        out, leaves = refracted_out(up / REFRACTIVE_INDEX, pieces.normals)
        points = (pieces.points_mm + 2 * layer_shift_mm(to_eye, self.disc.clear_mm)).astype(np.float32)
        px = self.view.px(points)
        passed = self._layer(points, out[:, :2].astype(np.float32))
        passed = np.where(leaves[:, None], passed, 0.1 * self.light.lit * self.disc.reflectance)
        scattered = 0.3 * self.disc.reflectance * scattered
        top = fresnel(to_eye[:, 2])[:, None]
        mirror = picked(self.patch.mirror, px[:, 0] - self.patch.x0, px[:, 1] - self.patch.y0)
        seen = top * mirror + (1 - top) * ((1 - line.rough) * passed + line.rough * scattered)
        there = 0.85 * self._metal_at(points)
        splat.add(px, pieces.areas_mm2 * self.view.px_per_mm2(points) * there, seen)

    def _contrast(self, line: Line, pieces: Facets, seen: Array, bare: Array) -> float:
        """The median along the line, over its width or a pixel and a half."""
        count, least_mm = len(pieces.path_mm), 1.5 * self.patch.px_mm
        change = (seen - bare) @ GREY * pieces.areas_mm2
        if line.width_mm > least_mm:  # bright and dark walls are seen apart
            change = np.abs(change)
        total = np.abs(np.bincount(pieces.along, change, count)) / pieces.step_mm / max(line.width_mm, least_mm)
        ground = np.bincount(pieces.along, bare @ GREY, count) / np.bincount(pieces.along, minlength=count)
        here = pieces.depths > 0.1
        return float(np.median(total[here] / ground[here].clip(1e-4)))

    def cracks(self) -> list[Array]:
        """Paints all cracks; returns of each its path with the width at every point, (n, 3)."""
        splat = Splat(self.patch)
        told = [self._crack(splat, path) for path in self.disc.cracks_mm]
        splat.paint()
        return told

    def _crack(self, splat: Splat, path_mm: Array) -> Array:
        """A dark gap, and beside it the face of the break, as wide as it is seen from aside, glinting."""
        rng, pixel = self.rng, self.patch.px_mm
        path = resampled(path_mm, pixel / 2)
        count, across, step = len(path), sideways_of(path), length_mm(path) / (len(path) - 1)
        wide = rng.uniform(0.05, 0.3) * np.linspace(1, 0.12, count) * (1 + 0.3 * wander(rng, count, 12)).clip(0.1)
        facing = np.abs((self.view.to_eye(path)[:, :2] * across).sum(1)) / REFRACTIVE_INDEX + abs(rng.normal(0, 0.08))
        face = (THICK_MM * facing + 0.03).clip(0.03, 0.7) * np.linspace(1, 0.3, count)
        glance, side = wander(rng, count, max(4, int(length_mm(path) / 1.2) + 2)), rng.choice([-1, 1])
        strips = int(np.ceil(face.max() / pixel * 1.3)) + 1
        for strip in range(strips):
            off = (strip + 0.5) / strips * face
            points = (path + across * (side * (off + wide / 2))[:, None]).astype(np.float32)
            tilted = across * (0.75 * np.tanh(glance + 0.25 * rng.standard_normal(count)))[:, None]
            shine = self.light.from_side(points, tilted, soft=True, person=False)
            shine = shine * (0.5 + (0.5 + 0.8 * glance).clip(0, 2))[:, None] + 0.15 * self.light.lit
            splat.add(self.view.px(points), 0.8 * face / strips * step * self.view.px_per_mm2(points), shine)
        strips = int(np.ceil(wide.max() / pixel * 1.3))
        for strip in range(strips):
            points = path + across * (wide * ((strip + 0.5) / strips - 0.5))[:, None]
            px = self.view.px(points)
            dark = 0.12 * self._bare_at(px) + 0.03 * self.light.lit
            splat.add(px, wide / strips * step * self.view.px_per_mm2(points), dark)
        return np.column_stack([path, wide])

    def dust(self) -> None:
        """Specks and hairs, each with its shadow in the mirror layer."""
        picture = self.patch.picture
        here = np.zeros((1, 2))
        shift = 2 * layer_shift_mm(self.view.to_eye(here), self.disc.clear_mm)
        own = self.disc.dust * (0.8 * self.light.lit + 0.25 * self.patch.dull)
        for off, share, light in ((shift, 0.4, 0 * own), (here, 1.0, own)):
            cover = np.zeros(picture.shape[:2], np.uint8)
            for outline, opacity in self.disc.specks:
                px = self.view.px(outline + off) - [self.patch.x0, self.patch.y0]
                cv2.fillPoly(cover, [np.round(px * 16).astype(np.int32)], round(255 * opacity * share), cv2.LINE_AA, 4)
            opaque: Array = cover[..., None] / np.float32(255)
            picture[:] = picture * (1 - opaque) + opaque * light
        splat = Splat(self.patch)
        for hair in self.disc.hairs:
            path, tint = resampled(hair.path_mm, self.patch.px_mm / 2), self.rng.choice([0.15, 0.6, 1.2])
            step = length_mm(path) / (len(path) - 1)
            own = np.broadcast_to(tint * self.disc.dust * self.light.lit, (len(path), 3))
            dark = 0.35 * self._bare_at(self.view.px(path + shift))
            for off, share, light in ((shift, 0.5, dark), (here, 1.0, own)):
                size = share * hair.opacity * hair.width_mm * step * self.view.px_per_mm2(path + off)
                splat.add(self.view.px(path + off), size, light)
        splat.paint()
