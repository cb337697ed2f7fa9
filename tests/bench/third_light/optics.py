"""What disc and grooves send to the camera: the room mirrored, spread by the tracks, thrown aside by flanks."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.chance import Rng
from bench.other_light.optics import PITCH_NM, Array
from bench.other_light.view import View, through

from .damage import Line
from .disc import Disc
from .person import Person, reflected
from .room import Room, look
from .view import noise

HALF_MM, SIDE, TRACK_SIDE = 64.0, 640, 320
TO_FRAME = np.array([[SIDE / (2 * HALF_MM), 0, SIDE / 2 - 0.5], [0, SIDE / (2 * HALF_MM), SIDE / 2 - 0.5], [0, 0, 1]])
"""(3, 3), mm to cells of the frames."""
INDEX = 1.58
"""Of polycarbonate."""
GLOSS = 0.05
"""Share of the light that the front of the disc mirrors."""


def responses(wavelengths_nm: Array) -> Array:
    """Linear sRGB (n, 3) of light of one wavelength.

    C. Wyman, P.-P. Sloan, P. Shirley, Simple Analytic Approximations to the CIE XYZ Color Matching Functions, 2013
    (from memory); IEC 61966-2-1.
    """

    def lobe(peak: float, below: float, above: float) -> Array:
        off = wavelengths_nm - peak
        return np.asarray(np.exp(-0.5 * (off / np.where(off < 0, below, above)) ** 2))

    x = 1.056 * lobe(599.8, 37.9, 31.0) + 0.362 * lobe(442.0, 16.0, 26.7) - 0.065 * lobe(501.1, 20.4, 26.2)
    y = 0.821 * lobe(568.8, 46.9, 40.5) + 0.286 * lobe(530.9, 16.3, 31.1)
    z = 1.217 * lobe(437.0, 11.8, 36.0) + 0.681 * lobe(459.0, 26.0, 13.8)
    to_rgb = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])
    return np.asarray(np.stack([x, y, z], 1) @ to_rgb.T)


def mirror_ray(normals: Array, to_eye: Array) -> Array:
    """Where light comes from that normals (..., 3), not of unit length, mirror to the eye."""
    ray = 2 * (normals * to_eye).sum(-1, keepdims=True) * normals - to_eye * (normals**2).sum(-1, keepdims=True)
    return np.asarray((ray / np.linalg.norm(ray, axis=-1, keepdims=True)).astype(np.float32))


@dataclass(frozen=True)
class Frames:
    """Radiance (SIDE, SIDE, 3) that comes to each place of the disc."""

    mirrored: Array
    spread: Array
    """By the tracks."""


def sample(frame: Array, points_mm: Array) -> Array:
    """A frame (n, 3) at points (n, 2)."""
    at = through(TO_FRAME, points_mm).astype(np.float32)
    return cv2.remap(frame, at[:, :1], at[:, 1:], cv2.INTER_LINEAR)[:, 0]


def _grid(side: int) -> Array:
    axis = (((np.arange(side) + 0.5) / side * 2 - 1) * HALF_MM).astype(np.float32)
    return np.stack(np.meshgrid(axis, axis), 2)


def frames(rng: Rng, room: Room, person: Person, disc: Disc, view: View) -> Frames:
    points = _grid(SIDE)
    to_eye = view.to_eye(points.reshape(-1, 2)).reshape(SIDE, SIDE, 3)
    around = np.arctan2(points[..., 1], points[..., 0]) - disc.astigmatism[1]
    slope = (disc.dish + disc.astigmatism[0] * np.cos(2 * around)) / 60
    ripple = 0.0012 * np.stack([noise(rng, (SIDE, SIDE), 130, 2) for _ in range(2)], 2)
    normals = np.dstack([slope[..., None] * points + ripple, np.ones((SIDE, SIDE), np.float32)])
    mirrored = reflected(room, person, view, points, mirror_ray(normals, to_eye))
    spread = cv2.resize(_spread(room, disc, view), (SIDE, SIDE), interpolation=cv2.INTER_CUBIC)
    return Frames(mirrored, np.maximum(spread, 0))


def _spread(room: Room, disc: Disc, view: View) -> Array:
    """Of the way to the eye and that to the light, the sum along the track is 0, along the radius m lambda / pitch."""
    points = _grid(TRACK_SIDE)
    outwards = points / np.maximum(np.hypot(points[..., 0], points[..., 1]), 1)[..., None]
    to_eye = view.to_eye(points.reshape(-1, 2)).reshape(TRACK_SIDE, TRACK_SIDE, 3)[..., :2]
    radial = (to_eye * outwards).sum(2)
    along = outwards[..., ::-1] * [-1, 1]
    kept = -(to_eye * along).sum(2)
    wavelengths = np.arange(405, 695, 12.0 if disc.format == "cd" else 9.0)
    colours = responses(wavelengths)
    colours /= colours.sum(0)
    total = np.zeros((TRACK_SIDE, TRACK_SIDE, 3), np.float32)
    for order, share in enumerate(disc.orders, 1):
        for step in (-order, order):
            for wavelength, colour in zip(wavelengths, colours, strict=True):
                across = step * wavelength / PITCH_NM[disc.format] - radial
                leaves = across**2 + kept**2 < 0.985
                if leaves.any():
                    way = across[..., None] * outwards + kept[..., None] * along
                    gain = leaves[..., None] * (share * colour * (550 / wavelength) ** 0.5)
                    total += look(room.tracks, way[..., 0], way[..., 1]) * gain.astype(np.float32)
    return np.maximum(total, 0)


def apparent(disc: Disc, view: View) -> float:
    """Share of its depth at which the metal seems to lie under the clear layer, by Snell's law."""
    slant = max(float(np.arccos(view.camera_mm[2] / np.linalg.norm(view.camera_mm))), 0.02)
    return float(np.tan(np.arcsin(np.sin(slant) / INDEX)) / np.tan(slant))


def groove_light(room: Room, disc: Disc, view: View, line: Line) -> Array:
    """Radiance (n, 3) of a groove along its path: off its flanks and, bent by them, off the metal beneath."""
    way = np.gradient(line.path_mm, axis=0)
    way /= np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    to_eye = view.to_eye(line.path_mm)
    total = np.zeros((len(way), 3), np.float32)
    slopes = np.linspace(-1, 1, 15) * line.slope
    weights = np.exp(-0.5 * (slopes / (0.6 * line.slope)) ** 2)
    light = room.rough[0 if line.scatter < 0.15 else 1]
    beneath = disc.metal * (0.92 - line.scatter)
    for slope, weight in zip(slopes, weights / weights.sum(), strict=True):
        for lean, gain in ((slope, np.full(3, GLOSS)), (0.29 * slope, beneath)):
            ray = mirror_ray(np.column_stack([-lean * way[:, 1], lean * way[:, 0], np.ones(len(way))]), to_eye)
            total += weight * gain * look(light, ray[:, :1], ray[:, 1:2])[:, 0] * (ray[:, 2:] > 0.02)
    total += 0.7 * line.scatter * room.mean
    on_metal = np.hypot(*line.path_mm.T)[:, None] >= disc.metal_mm[0]
    return np.where(on_metal, total, 0.5 * total + 0.3 * room.mean)
