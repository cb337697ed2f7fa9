"""The picture of the disc and of what lies about it, in linear light."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.areas import FLAT_PX_MM, HOLE_MM
from bench.other_light.chance import Rng, ramp
from bench.other_light.lines import sideways_of
from bench.other_light.optics import Array
from bench.other_light.view import View

from .damage import Crack, Line
from .disc import Disc
from .hub import paint_hub
from .label import Label
from .optics import GLOSS, TO_FRAME, Frames, apparent, groove_light, sample
from .room import Room
from .strokes import Strokes
from .view import TABLE_MM, Window, circle, px_per_mm, whole

LUMA = np.array([0.25, 0.65, 0.1])
PER_MM = 64
"""Steps of the tables by radius."""
SMALLER = 6
"""So much coarser is the shadow reckoned."""
PAPER = (220, 120)


@dataclass(frozen=True)
class Lit:
    """The table (height, width, 3), the light that falls on it (height, width), and how dark the shadow is."""

    paint: Array
    light: Array
    shadow: float


def lit_table(rng: Rng, paint: Array, room: Room, disc: Disc, view: View) -> tuple[Lit, Array]:
    """The light falls off, the photographer shades it, and the disc, most under its metal. Also the picture so far."""
    size, px_mm = (view.width_px, view.height_px), px_per_mm(view, disc.rim_mm)
    lean = room.lean / max(np.linalg.norm(room.lean), 0.05)
    y, x = np.mgrid[0:64, 0:64] / 63 - 0.5
    light = 1 + rng.uniform(0, 0.7) * (x * lean[0] + y * lean[1])
    off = (x - rng.normal(0, 0.3)) ** 2 + (y - rng.uniform(0, 0.6)) ** 2
    light *= 1 - rng.uniform(0, 0.4) * np.exp(-off / 0.15)
    light = cv2.resize(light.astype(np.float32), size, interpolation=cv2.INTER_CUBIC)
    aside, clear_mm = -lean * rng.uniform(0.3, 3.0), disc.metal_mm[0] if disc.hub_back is None else 13
    shadow = whole(view).filled(circle(disc.rim_mm) + aside, TABLE_MM, SMALLER)
    shadow -= 0.85 * whole(view).filled(circle(clear_mm) + aside, TABLE_MM, SMALLER)
    near, far = (cv2.GaussianBlur(shadow, (0, 0), max(least, least * px_mm / SMALLER)) for least in (0.8, 3.5))
    shadow = cv2.resize(0.6 * near + 0.4 * far, size, interpolation=cv2.INTER_LINEAR)
    dark, grain = rng.uniform(0.15, 0.6), rng.standard_normal(size[::-1], dtype=np.float32)
    grain = 1 + np.float32(rng.uniform(0.01, 0.06)) * cv2.GaussianBlur(grain, (0, 0), 0.9)
    picture = paint * (light * (1 - np.float32(dark) * shadow) * grain)[..., None] * room.mean
    return Lit(paint, light, dark), picture


def by_radius(rng: Rng, disc: Disc, px_mm: float) -> Array:
    """(n, 5), a row each 1/PER_MM mm: colour of the mirror, share of the tracks, share that no metal covers."""
    radius = np.arange(0, 66, 1 / PER_MM)
    soft = max(0.03, 0.5 / px_mm)

    def after(edge_mm: float) -> Array:
        return np.asarray(np.clip((radius - edge_mm) / (2 * soft) + 0.5, 0, 1))

    tracks_mm, written_mm = disc.recorded_mm
    metal = after(disc.metal_mm[0]) * (1 - after(disc.metal_mm[1]))
    tracks = after(tracks_mm) * (1 - after(disc.end_mm + rng.uniform(0.1, 0.6)))
    pressed = disc.recording == "pressed"
    colour = disc.metal * (1 - 0.08 * pressed * tracks)[:, None]
    colour[radius < tracks_mm] *= rng.uniform(0.85, 1.1) if pressed else rng.uniform(0.8, 1.05, 3)
    if written_mm:
        colour *= 1 - (after(tracks_mm) * (1 - after(written_mm)))[:, None] * (1 - disc.written)
    if disc.banded:
        bands = np.interp(radius, np.arange(0, 70, 2.0), rng.normal(0, 0.006, 35)) + rng.normal(0, 0.002, len(radius))
        colour *= (1 + bands * tracks)[:, None]
        for _ in range(rng.integers(0, 4)):
            colour *= (1 + rng.normal(0, 0.02) * after(rng.uniform(tracks_mm, disc.end_mm)))[:, None]
    return np.column_stack([colour * metal[:, None], tracks, 1 - metal]).astype(np.float32)


class Surface:
    """Paints one disc into a photograph."""

    def __init__(self, rng: Rng, window: Window, room: Room, disc: Disc, frames: Frames) -> None:
        self.rng, self.window, self.room, self.disc, self.frames = rng, window, room, disc, frames
        self.px_mm = px_per_mm(window.view, disc.rim_mm)
        self.rows = by_radius(rng, disc, self.px_mm)
        self.sunk_mm = -disc.clear_mm * apparent(disc, window.view)
        self.radius_mm = np.hypot(*window.mm(0))
        self.lights: list[tuple[Array, Array]] = []
        """Of each line, its own (n, 3) and that of the surface about it."""

    def _framed(self, frame: Array) -> Array:
        place = self.window.homography(0) @ np.linalg.inv(TO_FRAME)
        return cv2.warpPerspective(frame, place, self.window.size, borderMode=cv2.BORDER_REPLICATE)

    def _layer(self, name: str, nothing: float = 0) -> Array | None:
        """A layer of the flat grid as the window sees it, (height, width, 1 or 3), if there is one."""
        layers = self.disc.flat.layers
        return self._seen(layers[name], nothing) if name in layers else None

    def _seen(self, on_flat: Array, nothing: float = 0) -> Array:
        """What lies on the flat grid, (side, side, ...), as the window sees it, (height, width, 1 or 3)."""
        flat = self.disc.flat
        grid = np.array([[FLAT_PX_MM, 0, FLAT_PX_MM * flat.half_mm - 0.5], [0, FLAT_PX_MM, 0], [0, 0, 1]])
        grid[1, 2] = grid[0, 2]
        place = self.window.homography(0) @ np.linalg.inv(grid)
        seen = cv2.warpPerspective(on_flat, place, self.window.size, borderValue=(nothing,) * 3)
        return seen.reshape(*seen.shape[:2], -1)

    def paint(self, picture: Array, table: Lit) -> None:
        """Everything but the sticker, into the photograph's radiance, in place."""
        below = picture[self.window.part]
        on_table, on_top = (self.window.filled(circle(self.disc.rim_mm), height) for height in (TABLE_MM, 0))
        wall = np.clip(on_table - on_top, 0, 1)[..., None]
        tone = 0.75 * (0.6 + 0.6 * self.disc.metal) if self.disc.edge is None else self.disc.edge
        below[:] -= wall * (0.55 * below - (self.rng.uniform(0.3, 0.9) * tone * self.room.mean).astype(np.float32))
        body = self._body(table)
        marks = Strokes(self.window)
        for line in self.disc.lines:
            self._line(marks, line)
        for crack in self.disc.cracks:
            self._crack(marks, crack)
        marks.lay(body)
        haze, dim = self._layer("haze"), self._layer("dim")
        if haze is not None and dim is not None:
            body = body * (1 - dim.clip(0, 0.9)) + haze * self.room.mean * 0.7
        dust = Strokes(self.window)
        self._dust(dust)
        dust.lay(body)
        on_disc = (on_top * (1 - np.clip((HOLE_MM - self.radius_mm) * self.px_mm + 0.5, 0, 1)))[..., None]
        below[:] += on_disc * (body - below)

    def _body(self, table: Lit) -> Array:
        """The disc without lines and dirt."""
        disc, room, radius = self.disc, self.room, np.hypot(*self.window.mm(self.sunk_mm))
        rows = self.rows[np.clip(radius * PER_MM, 0, len(self.rows) - 1).astype(np.int32)]
        mirrored, spread = self._framed(self.frames.mirrored), self._framed(self.frames.spread)
        part, lost = self.window.part, rows[..., 4:]
        through = table.paint[part] * (table.light[part] * (1 - 0.2 * table.shadow))[..., None] * room.mean * disc.hub
        if disc.hub_back is not None and self.rng.random() < 0.6:
            printed = ramp(17.8, 17.9, radius)[..., None]
            through = through * (1 - printed) + printed * disc.hub_back * room.mean * 0.8
        if disc.edge is not None:
            through = np.where((radius > disc.rim_mm - 3)[..., None], disc.edge * room.mean * 0.8, through)
        spread = spread * rows[..., 3:4]
        if disc.label is not None:
            return self._printed(disc.label, mirrored, 0.4 * spread, through, lost, table.light[part])
        metal = mirrored * rows[..., :3] + spread
        tint, hole, milk = self._layer("tint", 1), self._layer("hole"), self._layer("milk")
        if tint is not None:
            metal *= tint
        if hole is not None:
            metal *= 1 - hole
            lost = np.maximum(lost, 0.95 * hole)
        body = metal + through * lost
        if milk is not None:
            milk = milk * (radius > disc.metal_mm[0])[..., None]
            body = body * (1 - milk) + milk * room.mean * 0.8
        body = (body + GLOSS * mirrored).astype(np.float32)
        paint_hub(self.rng, body, self.window, disc, room, self.radius_mm)
        bevel = np.exp(-(((self.radius_mm - disc.rim_mm + 0.25) / 0.18) ** 2))[..., None]
        return np.asarray(body * (1 + bevel * np.float32(self.rng.uniform(-0.35, 0.9))), np.float32)

    def _printed(
        self, label: Label, mirrored: Array, spread: Array, through: Array, lost: Array, light: Array
    ) -> Array:
        """The label's side: metal under varnish, ink over it."""
        diffuse = light[..., None] * self.room.mean
        body = (label.bare(mirrored, spread, diffuse) * (1 - lost) + through * lost).astype(np.float32)
        paint_hub(self.rng, body, self.window, self.disc, self.room, self.radius_mm)
        return label.printed(body, self._seen, mirrored, diffuse)

    @property
    def _twin(self) -> bool:
        """Whether the clear layer is so thick that what lies on it shows a second time, in the mirror."""
        return self.disc.clear_mm > 0.2

    def _line(self, marks: Strokes, line: Line) -> None:
        light = groove_light(self.room, self.disc, self.window.view, line)
        marks.line(line.path_mm, 0, line.width_mm, line.depths, light)
        if self._twin:
            marks.line(line.path_mm, 2 * self.sunk_mm, 1.3 * line.width_mm, 0.4 * line.depths, 0.8 * light)
        rows = self.rows[np.clip(np.hypot(*line.path_mm.T) * PER_MM, 0, len(self.rows) - 1).astype(int)]
        mirrored, spread = (sample(frame, line.path_mm) for frame in (self.frames.mirrored, self.frames.spread))
        self.lights.append((light, mirrored * (rows[:, :3] + GLOSS) + spread * rows[:, 3:4]))

    def _crack(self, marks: Strokes, crack: Crack) -> None:
        """The broken face, seen through the clear layer, and its edges."""
        rng, path, count = self.rng, crack.path_mm, len(crack.path_mm)
        aside = sideways_of(path)
        along = np.arange(count)
        lean = 1 + 0.5 * np.interp(along, np.linspace(0, count, 9), rng.standard_normal(9))[:, None]
        glints = max(4, count // 3)
        glint = np.interp(along, np.linspace(0, count, glints), rng.random(glints))[:, None]
        face, full = self.room.mean * crack.bright * (0.2 + 1.5 * glint**2), np.ones(count)
        for depth in np.linspace(0.1, 1, 6):
            leant = path + aside * crack.lean_mm * depth * lean
            marks.line(leant, self.sunk_mm * depth, 0.12, 0.35 * full, face)
        marks.line(path, 0, crack.width_mm, 0.9 * full, 0.15 * face + 0.03 * self.room.mean)
        marks.line(path + aside * 0.6 * crack.width_mm, 0, crack.width_mm / 2, 0.7 * full, 1.5 * face)

    def _dust(self, dust: Strokes) -> None:
        rng, mean = self.rng, self.room.mean
        for hair in self.disc.hairs:
            full, tone = np.ones(len(hair.path_mm)), rng.choice([0.05, 0.9]) * rng.uniform(0.5, 1)
            dust.line(hair.path_mm, 0, hair.width_mm, hair.opacity * full, mean * tone)
            if self._twin:
                dust.line(hair.path_mm, 2 * self.sunk_mm, hair.width_mm, 0.3 * full, 0.1 * mean)
        for outline, opacity in self.disc.specks:
            area = float(cv2.contourArea(outline.astype(np.float32))) * self.px_mm**2
            count = int(max(4, area * 3))
            corner, mix = rng.integers(0, len(outline), count), rng.random((count, 1))
            border = outline[corner] * (1 - mix) + outline[(corner + 1) % len(outline)] * mix
            middle = outline.mean(0)
            points = middle + np.sqrt(rng.random((count, 1))) * (border - middle)
            each = np.full(count, area * opacity / count)
            dust.dots(self.window.px(points, 0), each, mean * rng.uniform(0.3, 0.9))
            if self._twin:
                dust.dots(self.window.px(points, 2 * self.sunk_mm), each / 2, 0.15 * mean)

    def sticker(self, picture: Array) -> None:
        """A price tag, in place."""
        rng, outline = self.rng, self.disc.sticker_mm
        if outline is None:
            return
        colour = rng.uniform(0.8, 0.85) * np.array([1, rng.uniform(0.6, 1), rng.uniform(0.2, 1)])
        inked, words = np.zeros(PAPER[::-1], np.uint8), f"{rng.integers(1, 20)}.{rng.integers(10, 99)}"
        cv2.putText(inked, words, (20, 85), cv2.FONT_HERSHEY_DUPLEX, 2.0, (255,), 5, cv2.LINE_AA)
        paper = (colour * (1 - 0.9 / 255 * inked[..., None])).astype(np.float32)
        edge = self.window.px(outline, 0).astype(np.float32)
        sheet = np.array([[0, 0], [PAPER[0], 0], PAPER, [0, PAPER[1]]], np.float32)
        place = cv2.getPerspectiveTransform(sheet, edge)
        seen = cv2.warpPerspective(paper, place, self.window.size, borderMode=cv2.BORDER_REPLICATE)
        cover = 0.98 * self.window.filled(outline, 0)[..., None]
        shade = cv2.GaussianBlur(cover, (0, 0), max(1, 0.5 * self.px_mm))[..., None]
        here = picture[self.window.part]
        here *= 1 - 0.3 * shade * (1 - cover)
        here += cover * (seen * self.room.mean - here)
