"""The light of a disc's face but for thin things: plastic, mirror, track, hub, parted layers, grease."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.areas import HOLE_MM, Flat
from bench.other_light.chance import ramp
from bench.other_light.optics import Array, rgb
from bench.other_light.view import View

from .breaks import bent_by
from .hub import TO_MM, hub_of
from .light import depth_shift_mm, face_share, film_colours, order_sines, responses, wavelengths_nm
from .makes import Disc
from .panorama import BLURS, Panorama, sampled

TURNS, RADII = 576, 36
SPECTRAL_STEP = 0.016


@dataclass
class Face:
    """A part of the photograph, each array (height, width, ...)."""

    corner: tuple[int, int]
    """Column and row of its first pixel in the photograph."""
    light: Array
    there: Array
    """(..., 1): share of the pixel that the disc covers."""
    white: Array
    """What white matt paper shows."""
    top: Array
    """(..., 1): share that the plastic's own face mirrors."""
    straight: Array
    """Share that the layer below mirrors in the ordinary way, as it is seen."""
    mirror: Array
    """(..., 2): whence a flat mirror's light comes, in sines."""
    px_mm: float

    def at(self, picture: Array, px: Array) -> Array:
        """One of the arrays at places (n, 2) of the photograph."""
        return sampled(picture, px[:, 0] - self.corner[0], px[:, 1] - self.corner[1]).reshape(len(px), -1)


def _box(view: View, rim_mm: float) -> tuple[int, int, int, int]:
    turn = np.linspace(0, 2 * np.pi, 180)
    px = view.px((rim_mm + 0.5) * np.stack([np.cos(turn), np.sin(turn)], 1))
    left, top = np.floor(px.min(0)).astype(int).clip(0)
    right = min(view.width_px, int(px[:, 0].max()) + 2)
    bottom = min(view.height_px, int(px[:, 1].max()) + 2)
    return int(left), int(top), right, bottom


def track_light(disc: Disc, room: Panorama, view: View) -> Array:
    """What the track sends of all its orders, unrolled: (radii, turns, 3)."""
    turn = (np.arange(TURNS) / TURNS * 2 * np.pi)[None, :]
    radius = np.linspace(disc.tracks_mm, disc.rim_mm, RADII)[:, None]
    points = np.stack([radius * np.cos(turn), radius * np.sin(turn)], -1).astype(np.float32)
    radial = np.broadcast_to(np.stack([np.cos(turn), np.sin(turn)], -1), points.shape).astype(np.float32)
    mirror = -view.to_eye(points.reshape(-1, 2))[:, :2].reshape(points.shape) + 2 * points / 60 @ disc.bowl.T
    mirror = mirror.astype(np.float32)
    light = np.zeros((RADII, TURNS, 3), np.float32)
    for order, share in disc.orders.items():
        nm = wavelengths_nm(disc.format, order, SPECTRAL_STEP)
        for wavelength, response in zip(nm, responses(nm), strict=True):
            whence = order_sines(mirror, radial, disc.format, order, wavelength)
            light += room.orders_from(points, whence) * (np.float32(share) * response)
    return light


def _ring_slopes(disc: Disc, radius: Array, px_mm: float) -> Array:
    """Outwards; a moulded ring is a bump or a groove with round flanks, at least a pixel and a half wide."""
    slope = np.zeros_like(radius)
    for middle, half, steep in disc.rings:
        wide = max(half, 0.8 * px_mm)
        off = (radius - middle) / wide
        slope += steep * half / wide * np.where(np.abs(off) < 1, np.sin(np.pi * off), 0)
    return slope


def _coarsely(room: Panorama, points: Array, mirror: Array, blur: int) -> Array:
    """`Panorama.look` at fewer places, so many that its blur leaves nothing out between them."""
    height, width = points.shape[:2]
    per_px = float(np.abs(np.diff(mirror[::8, ::8], axis=1)).max(initial=1e-6)) / 8
    less = int(np.clip(0.5 * BLURS[blur] / per_px, 1, 8))
    size = -(-width // less), -(-height // less)
    few = [cv2.resize(part, size, interpolation=cv2.INTER_AREA) for part in (points, mirror)]
    return np.asarray(cv2.resize(room.look(few[0], few[1], blur), (width, height), interpolation=cv2.INTER_LINEAR))


class _Layers:
    """The layers of a flat grid as points (height, width, 2) see them, (height, width, 1)."""

    def __init__(self, flat: Flat, points_mm: Array) -> None:
        self.layers, self.cells = flat.layers, flat.cells(points_mm).astype(np.float32)

    def __contains__(self, name: str) -> bool:
        return name in self.layers

    def __getitem__(self, name: str) -> Array:
        return sampled(self.layers[name], self.cells[..., 0], self.cells[..., 1])[..., None]


def _reflector(disc: Disc, deep: Array, lies: _Layers) -> tuple[Array, Array, Array, Array]:
    """At radii (height, width): cover of the metal, its tint, and its shares of plain and of the track's light."""
    metal = ramp(-0.1, 0.1, deep - disc.metal_mm[0]) * ramp(-0.1, 0.1, disc.metal_mm[1] - deep)
    metal = metal[..., None]
    if "lost" in lies:
        metal = metal * (1 - lies["lost"])
    start, end = disc.recorded_mm
    written = (ramp(-0.06, 0.06, deep - start) * ramp(0.06, -0.06, deep - end))[..., None]
    tint = disc.reflectance * (1 + written * (disc.written - 1))
    if "stain" in lies:
        tint = tint * (1 - 0.75 * lies["stain"] * rgb(0.45, 0.75, 1.0))
    tracks = ramp(-0.1, 0.1, deep - disc.tracks_mm)[..., None]
    if disc.recording == "pressed":
        tracks = tracks * (0.15 + 0.85 * written)  # no pits, no colours
        fan = tracks
    else:
        fan = tracks * (1 - 0.25 * written)
    return metal, tint, 1 - np.float32(1 - disc.straight) * (0.5 + 0.5 * tracks), fan


def face_of(disc: Disc, room: Panorama, view: View, points: Array, behind: Array, white: Array) -> Face:
    """Whole, but for lines, cracks and dust.

    Args:
        points: the disc's plane at each pixel, mm.
        behind: the photograph (height, width, 3) as it is without the disc.
        white: what white matt paper would show there.
    """
    left, top, right, bottom = _box(view, disc.rim_mm)
    points, behind, white = (part[top:bottom, left:right] for part in (points, behind, white))
    shape = points.shape[:2]
    camera = view.camera_mm.astype(np.float32)
    eye = np.concatenate([camera[:2] - points, np.full((*shape, 1), camera[2])], -1)
    eye /= np.sqrt((eye**2).sum(-1, keepdims=True))
    radius = np.hypot(points[..., 0], points[..., 1])
    radial = points / radius[..., None].clip(1e-3)
    px_mm = float(1 / np.sqrt(view.px_per_mm2(np.zeros((1, 2)))[0]))
    edge = float((1 / np.sqrt(view.px_per_mm2(points[::32, ::32].reshape(-1, 2)))).mean())
    there = ((disc.rim_mm - radius) / edge + 0.5).clip(0, 1) * ((radius - HOLE_MM) / edge + 0.5).clip(0, 1)

    below = points - depth_shift_mm(eye[..., :2], disc.clear_mm)
    deep = np.hypot(below[..., 0], below[..., 1])
    turn = np.arctan2(below[..., 1], below[..., 0])
    ink, relief = hub_of(disc).at(deep, turn)
    level = -eye[..., :2] + 2 * (points / 60) @ disc.bowl.T.astype(np.float32)
    if disc.cracks:
        level = level + 2 * bent_by(disc.cracks, points)
    steep = _ring_slopes(disc, radius, px_mm) + relief[..., 0]
    aside = np.stack([-radial[..., 1], radial[..., 0]], -1)
    tilt = steep[..., None] * radial + relief[..., 1:] * aside
    mirror = (level + 2 * tilt * eye[..., 2:]).astype(np.float32)
    share = face_share(eye[..., 2:])
    sharp = _coarsely(room, points, level, 0)
    carved = (deep < TO_MM) | (np.abs(steep) > 1e-3) | bool(disc.cracks)
    sharp[carved] = room.look(points[carved], mirror[carved], 0)
    for least, blur in ((0.015, 2), (0.05, 3)):  # what is round shows much within a pixel
        carved = np.abs(steep) > least
        sharp[carved] = room.look(points[carved], mirror[carved], blur)
    soft = _coarsely(room, points, level, 2) if {"grease", "milky"} & set(disc.flat.layers) else sharp

    lies = _Layers(disc.flat, below)
    clear = np.where((deep > disc.printed_mm)[..., None], disc.ink * white * np.float32(0.85), behind * disc.hub)
    clear = clear * disc.hub + share * sharp
    metal, tint, plain, fan = _reflector(disc, deep, lies)
    metal = metal * (1 - 0.8 * ink[..., None])
    row = (deep - disc.tracks_mm) / (disc.rim_mm - disc.tracks_mm) * (RADII - 1)
    unrolled = track_light(disc, room, view)
    unrolled = np.concatenate([unrolled, unrolled[:, :1]], 1)
    fan = fan * sampled(unrolled, turn / (2 * np.pi) % 1 * TURNS, row)
    through = (1 - share) ** 2
    metal_tint = through * metal * tint
    straight = metal_tint * plain
    light = share * sharp + straight * sharp + metal_tint * fan + through * (1 - metal) * clear
    if "fringes" in lies:
        film = 0.06 + 0.94 * film_colours(lies["gap_um"][..., 0]).astype(np.float32)
        light += lies["fringes"] * (0.8 * through * film * sharp * disc.reflectance - 0.8 * light)
        straight = straight * (1 - lies["fringes"])
    if "milky" in lies:
        light += 0.8 * lies["milky"] * (through * 0.6 * (white + 0.3 * soft) + share * sharp - light)
        straight = straight * (1 - 0.8 * lies["milky"])
    light += np.float32(disc.haze) * white
    above = _Layers(disc.flat, points)
    if "grease" in above:
        light += above["grease"] * (0.75 * straight * soft + 0.16 * white - 0.75 * light)
    if "lime" in above:
        light += above["lime"] * (0.28 * white - 0.5 * light)
    return Face((left, top), light.astype(np.float32), there[..., None], white, share, straight, level, px_mm)
