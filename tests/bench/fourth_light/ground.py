"""The light of a disc without its lines: mirrored room, rainbow, clear plastic, dirt and parted layers."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.chance import ramp
from bench.other_light.optics import Array

from .around import Around, from_flat
from .cracks import Crack
from .disc import Disc
from .hub import ring_slope, text_at
from .optics import fresnel, mirrored, order_shift, rainbow, unit
from .person import Person, before
from .view import Window

COARSE_CELLS, RAINBOW_CELLS, WAVELENGTHS = 640, 330, 20
BAND_NM = np.array([610.0, 545.0, 465.0])
"""Middles of red, green and blue of a camera (common practice, no source)."""


def bent(disc: Disc, points_mm: Array) -> Array:
    """Normals (..., 3) of a disc that is not quite flat, and jumps at its cracks."""
    x, y = points_mm[..., 0], points_mm[..., 1]
    radius, turn = np.hypot(x, y) / disc.rim_mm, np.arctan2(y, x)
    out, round_ = np.zeros_like(radius), np.zeros_like(radius)
    for lobes, (slope, phase) in zip((0, 2, 3, 5), disc.bend, strict=True):
        out += slope * radius * np.cos(lobes * turn + phase * (lobes > 0))
        round_ -= slope * radius * lobes / 2 * np.sin(lobes * turn + phase)
    for crack in disc.cracks:
        round_ += _lifted(crack, radius * disc.rim_mm, turn)
    slope_x = out * np.cos(turn) - round_ * np.sin(turn)
    slope_y = out * np.sin(turn) + round_ * np.cos(turn)
    return unit(np.stack([slope_x, slope_y, np.ones_like(radius)], -1))


def _lifted(crack: Crack, radius_mm: Array, turn: Array) -> Array:
    """The slope on either side of a crack, which falls off within some mm and towards its tip."""
    own = np.hypot(*crack.path_mm.T)
    order = np.argsort(own)
    angle = np.unwrap(np.arctan2(crack.path_mm[:, 1], crack.path_mm[:, 0]))
    off = (turn - np.interp(radius_mm, own[order], angle[order]) + np.pi) % (2 * np.pi) - np.pi
    off_mm = off * radius_mm
    beyond = np.maximum(own.min() - radius_mm, radius_mm - own.max()).clip(0)
    return np.asarray(crack.lift * np.tanh(off_mm / 0.15) * np.exp(-np.abs(off_mm) / 7 - beyond / 2))


class Ground:
    """A disc before a camera in some surroundings; grids are coarse where light changes slowly."""

    def __init__(self, window: Window, around: Around, person: Person, disc: Disc) -> None:
        self.window, self.around, self.disc = window, around, disc
        self.step = max(1, round(window.width / COARSE_CELLS))
        mm = window.mm(self.step)
        to_eye, ways = self.rays(mm)
        room = around.look(ways, 0)
        self.mirror = before(person, window.view, mm, ways, room, around.falls)
        self.veil = around.look(ways, 3)
        self.top = fresnel(to_eye[..., 2:]).astype(np.float32)
        self.colours = self._rainbow()
        self.fine_mm = window.mm() if self.step > 1 else mm
        self.radius_mm = np.hypot(self.fine_mm[..., 0], self.fine_mm[..., 1])
        row, column = np.gradient(self.radius_mm)
        self.px_per_mm = 1 / np.hypot(row, column).clip(1e-6)
        """Along the radius, at every pixel."""

    def rays(self, points_mm: Array) -> tuple[Array, Array]:
        """Unit vectors (..., 3) to the eye, and whence the mirror takes its light."""
        eye = self.window.view.camera_mm
        flat = np.concatenate([points_mm, np.zeros_like(points_mm[..., :1])], -1)
        to_eye = unit(eye - flat)
        return to_eye, mirrored(to_eye, bent(self.disc, points_mm))

    def _rainbow(self) -> Array:
        """What the track sends to the eye in all orders but the mirrored one, by the grating equation."""
        disc, step = self.disc, max(1, round(self.window.width / RAINBOW_CELLS))
        mm = self.window.mm(step)
        _, ways = self.rays(mm)
        flat, outwards = ways[..., :2].astype(np.float32), unit(mm).astype(np.float32)
        total = np.zeros((*mm.shape[:2], 3), np.float32)
        for number, share in enumerate(disc.orders, 1):
            for wavelength, colour in zip(*rainbow(WAVELENGTHS), strict=True):
                for order in (-number, number):
                    there = flat + np.float32(order_shift(disc.format, order, wavelength)) * outwards
                    inside = (there**2).sum(-1, keepdims=True) < 0.999
                    if inside.any():
                        total += self.around.look(from_flat(there), 1) * inside * (share * colour).astype(np.float32)
        return self.window.fine(total, step)

    def between(self, low_mm: float, high_mm: float) -> Array:
        """How much of each pixel (rows, columns, 1) lies between two radii."""
        inner = ((self.radius_mm - low_mm) * self.px_per_mm + 0.5).clip(0, 1)
        outer = ((high_mm - self.radius_mm) * self.px_per_mm + 0.5).clip(0, 1)
        return np.asarray(np.minimum(inner, outer)[..., None], np.float32)

    def layer(self, name: str) -> Array | None:
        """A layer of the flat grid (rows, columns, 1), or none."""
        layers = self.disc.flat.layers
        return self._seen(layers[name]) if name in layers else None

    def _seen(self, grid: Array) -> Array:
        """A picture on the flat grid (side, side, channels or none) as the window has it (rows, columns, channels)."""
        middle = (self.disc.flat.side - 1) / 2
        to_mm = np.array([[0.1, 0, -0.1 * middle], [0, 0.1, -0.1 * middle], [0, 0, 1]])
        size = (self.window.width, self.window.height)
        warped = cv2.warpPerspective(grid, self.window.to_window @ to_mm, size, flags=cv2.INTER_LINEAR)
        return np.asarray(warped.reshape(*warped.shape[:2], -1))

    def paint(self, table: Array) -> Array:
        """The window (rows, columns, 3) with the disc on what is below it, `table`, as wide."""
        disc, falls = self.disc, self.around.falls
        mirror, veil, top = (self.window.fine(grid, self.step) for grid in (self.mirror, self.veil, self.top))
        top = top.reshape(*self.radius_mm.shape, 1)
        through = (1 - top) ** 2
        below = self._below(table)
        if disc.label is None:
            metal = self._metal(mirror, veil, falls) * through
        else:
            metal = disc.label.bare(mirror, 0.4 * self.colours, falls / np.pi)
        on_metal = self.between(*disc.metal_mm)
        lost = self.layer("lost")
        if lost is not None:
            on_metal = on_metal * (1 - lost)
        light = metal * on_metal + below * through * 0.92 * (1 - on_metal) + top * mirror
        light = self._facets(light, mirror, top)
        if disc.label is not None:
            light = disc.label.printed(light, self._seen, mirror, falls / np.pi)
        for name, dull, white in (("frost", 0.9, 0.35), ("grease", 0.8, 0.09)):
            layer = self.layer(name)
            if layer is not None:
                cover = layer * (on_metal if name == "frost" else 1)
                hazy = 0.75 * veil * (0.1 + on_metal * disc.metal.astype(np.float32)) + (white * falls / np.pi).astype(
                    "f4"
                )
                light = light * (1 - dull * cover) + dull * cover * hazy
        whole = self.between(7.5, disc.rim_mm)
        return np.asarray(table * (1 - whole) + light * whole, np.float32)

    def _below(self, table: Array) -> Array:
        """What is seen through clear plastic: the table, or the print behind it, which is no more behind on a label."""
        hub = self.disc.hub
        if hub.backing is None or self.disc.label is not None:
            return np.asarray(table * np.float32(0.85))
        print_ = (hub.backing * self.around.falls / np.pi).astype(np.float32) * 0.8
        cover = self.between(hub.backing_mm, self.disc.rim_mm - 0.4)
        return np.asarray(table * np.float32(0.85) * (1 - cover) + print_ * cover)

    def _metal(self, mirror: Array, veil: Array, falls: Array) -> Array:
        disc = self.disc
        first, until = disc.recorded_mm
        written = self.between(first, until) if until > first else np.zeros_like(mirror[..., :1])
        track = written if disc.recording == "pressed" else self.between(first - 0.7, disc.metal_mm[1])
        lost_to_orders = 2 * sum(disc.orders)
        hue = disc.metal * (1 + (disc.blank - 1) * (1 - written))
        light = mirror * (1 - (lost_to_orders + disc.haze) * track) + self.colours * track * (0.75 + 0.25 * written)
        light = light + disc.haze * (0.3 + written) * (0.5 * veil + 0.5 * falls / np.pi)
        text = text_at(disc.hub, self.fine_mm[..., 0], self.fine_mm[..., 1], self.radius_mm)[..., None]
        light = light * (1 - 0.45 * text) + text * 0.04 * falls
        return self._stained(np.asarray(light * hue, np.float32))

    def _stained(self, light: Array) -> Array:
        stain, gap = self.layer("stain"), self.layer("gap_um")
        if stain is not None:
            light = light * (1 - stain * np.array([0.62, 0.78, 0.9], np.float32))
        if (
            gap is not None
        ):  # two faces a gap apart: 1 + cos(4 pi gap / wavelength), textbook; fading as its colours mix
            wave = np.cos(4 * np.pi * 1000 * gap / BAND_NM) * np.exp(-((gap / 2.2) ** 2))
            light = light * (1 - 0.55 * (gap > 0) * (0.5 + 0.5 * wave))
        return np.asarray(light, np.float32)

    def _facets(self, light: Array, mirror: Array, top: Array) -> Array:
        """Moulded rings about the hole and the rounded rim mirror other parts of the room."""
        disc = self.disc
        from_rim = disc.rim_mm - self.radius_mm
        slope = ring_slope(disc.hub, self.radius_mm) + 1.4 * ramp(0.3, 0.0, from_rim)
        rows, columns = np.nonzero(np.abs(slope) > 0.02)
        if not len(rows):
            return light
        points, steep = self.fine_mm[rows, columns], slope[rows, columns][:, None]
        eye = self.window.view.camera_mm - np.concatenate([points, np.zeros_like(points[:, :1])], 1)
        to_eye, out = unit(eye), unit(points)
        normals = unit(np.concatenate([out * steep, np.ones_like(steep)], 1))
        ways = mirrored(to_eye, normals)
        shine = fresnel((to_eye * normals).sum(1, keepdims=True).clip(0.05, 1)) * (ways[:, 2:] > -0.2)
        seen = self.around.spread(ways, np.full(len(ways), 3.0)) * shine
        inner = self.around.spread(from_flat(ways[:, :2] * 0.4 - out * 0.5 * steep), np.full(len(ways), 9.0)) * 0.12
        share = np.minimum(1, 1.6 * np.abs(steep))
        light[rows, columns] = light[rows, columns] * (1 - 0.55 * share) + (seen + inner) * share
        return light
