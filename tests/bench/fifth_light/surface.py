"""The light of a disc before lines and cracks are drawn on it: mirror, colours, clear parts, what lies on the face."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.areas import FLAT_PX_MM, Flat
from bench.other_light.chance import Rng, cloud, log_uniform
from bench.other_light.optics import Array
from bench.other_light.view import View, ellipse_px

from .cards import Scene
from .decay import fringe_colours
from .disc import Disc, unmarked
from .fan import fans
from .fracture import pieces
from .hub import Profile, profile, stamped
from .optics import top_face
from .pose import plane_mm, to_eye

GRID = 420
"""Of how many steps across the disc mirror and colours are reckoned: both are smooth there, or out of focus."""
STAIN = np.array([0.35, 0.6, 0.85], np.float32)
"""What a brown stain takes of red, green and blue (common practice, no source)."""


@dataclass
class Surface:
    """The part of the photograph that holds the disc."""

    corner: tuple[int, int]
    """Column and row of its first pixel in the photograph."""
    points_mm: Array
    """(h, w, 2)"""
    radius_mm: Array
    """(h, w)"""
    light: Array
    """(h, w, 3), radiance"""
    there: Array
    """(h, w, 1), share of each pixel that is disc"""
    profile: Profile
    mirrored: Array
    """(h, w, 3), the room in the mirror, all of it"""
    falls: Array
    """(3,), irradiance at the disc's centre"""
    ambient: Array
    """(3,)"""


def box_of(view: View, rim_mm: float, margin_px: int = 4) -> tuple[int, int, int, int]:
    """First and last column, first and last row of the disc in the photograph, the last ones not included."""
    oval = ellipse_px(view.homography, rim_mm)
    turn, half = np.deg2rad(oval["angle_deg"]), (oval["axis_major"] / 2, oval["axis_minor"] / 2)
    wide = np.hypot(half[0] * np.cos(turn), half[1] * np.sin(turn)) + margin_px
    tall = np.hypot(half[0] * np.sin(turn), half[1] * np.cos(turn)) + margin_px
    left, right = int(max(0, oval["cx"] - wide)), int(min(view.width_px, oval["cx"] + wide + 1))
    top, bottom = int(max(0, oval["cy"] - tall)), int(min(view.height_px, oval["cy"] + tall + 1))
    return left, right, top, bottom


def flat_on(layer: Array, flat: Flat, view: View, corner: tuple[int, int], size: tuple[int, int]) -> Array:
    """A layer of the flat grid on pixels (height, width) from a corner on."""
    half = flat.half_mm
    to_mm = np.array(
        [[1 / FLAT_PX_MM, 0, 0.5 / FLAT_PX_MM - half], [0, 1 / FLAT_PX_MM, 0.5 / FLAT_PX_MM - half], [0, 0, 1]]
    )
    move = np.array([[1, 0, -corner[0]], [0, 1, -corner[1]], [0, 0, 1.0]])
    to_px = move @ view.homography @ to_mm
    return np.asarray(cv2.warpPerspective(layer, to_px, size[::-1], flags=cv2.INTER_LINEAR))


def waves(disc: Disc, points_mm: Array) -> Array:
    """Slopes (h, w, 2) of a disc that is never quite flat: a bowl, slow waves, pieces that lean."""
    rng = unmarked(disc.number + 3)
    height, width = points_mm.shape[:2]
    cell = max(height, width) / rng.uniform(2.5, 7)
    rough = log_uniform(rng, 0.0004, 0.003)
    slopes = rough * np.stack([cloud(rng, height, width, cell, 2) for _ in range(2)], -1)
    slopes = slopes + rng.normal(0, 0.004) * points_mm / disc.rim_mm
    if sum(crack.through for crack in disc.cracks) > 1:
        turn, radius = np.arctan2(points_mm[..., 1], points_mm[..., 0]), np.hypot(points_mm[..., 0], points_mm[..., 1])
        leaning = rng.normal(0, 0.012, (9, 2))
        slopes = slopes + leaning[pieces(disc.cracks, turn, radius)]
    return np.asarray(slopes, np.float32)


def surface(disc: Disc, view: View, scene: Scene, table: Array, aperture_mm: float) -> Surface:
    """The disc's light on the pixels about it.

    Args:
        table: (H, W, 3), radiance of the photograph without the disc.
        aperture_mm: of the lens.
    """
    left, right, top, bottom = box_of(view, disc.rim_mm)
    size = (bottom - top, right - left)
    step = max(1, round(max(size) / GRID))
    columns, rows = (np.arange(0, long + step, step) + (step - 1) / 2 for long in (size[1], size[0]))
    coarse = plane_mm(view, left + columns, top + rows)
    eye = to_eye(view, coarse)
    bent = -eye[..., :2] + 2 * waves(disc, coarse) * eye[..., 2:]
    rays = np.concatenate([bent, np.sqrt((1 - (bent**2).sum(-1, keepdims=True)).clip(1e-4))], -1).astype(np.float32)
    focus = float(np.linalg.norm(view.camera_mm))
    blur = aperture_mm * view.focal_px / focus / 4 / step  # a disc's deviation is a quarter of its diameter
    room = scene.look(coarse, rays, (blur, focus))
    ambient = scene.ambient()
    bends = _colours(disc, scene, coarse, eye)
    bends = bends + 0.25 * ambient * sum(disc.stock.bends)  # what the room without lamps sends, of all colours at once
    mirrors = top_face(eye[..., 2])[..., None].astype(np.float32)

    def fine(part: Array) -> Array:
        whole = cv2.resize(part.astype(np.float32), None, fx=step, fy=step, interpolation=cv2.INTER_CUBIC)
        return np.asarray(whole[: size[0], : size[1]])

    points = plane_mm(view, np.arange(left, right), np.arange(top, bottom))
    radius = np.hypot(points[..., 0], points[..., 1])
    pixel_mm = focus / view.focal_px
    radial = profile(disc, pixel_mm)
    face, back = fine(mirrors * room), fine((1 - mirrors) ** 2 * room)
    metal = radial.at(radial.mirror, radius) * back + radial.at(radial.bends, radius) * fine((1 - mirrors) ** 2 * bends)
    clear = radial.at(radial.clear, radius)
    below = table[top:bottom, left:right]
    light = metal + face * (1 + clear[..., 1:2]) + clear * below
    falls = scene.falls(np.zeros((1, 2), np.float32), ambient)[0]
    whole = Surface(
        (left, top), points, radius, light, radial.at(radial.there, radius), radial, fine(room), falls, ambient
    )
    _stamp(disc, whole)
    _decayed(disc.flat, view, whole, metal, below)
    return whole


def _colours(disc: Disc, scene: Scene, points_mm: Array, eye: Array) -> Array:
    """The track's colours on the grid; those of large lamps, which change slowly, on one a third as fine."""
    make, total = disc.stock, np.zeros((*points_mm.shape[:-1], 3), np.float32)
    for large, step in ((False, 1), (True, 3)):
        lamps = [lamp for lamp in scene.lamps if (lamp.radius_mm > 0.03 * np.linalg.norm(lamp.place_mm)) == large]
        few = (slice(step // 2, None, step),) * 2
        points, sideways = points_mm[few], eye[few][..., :2]
        bends = fans(lamps, points, sideways, disc.format, make.bends, make.pits, make.ragged)
        total += np.asarray(cv2.resize(bends, total.shape[1::-1], interpolation=cv2.INTER_LINEAR))
    return total


def _stamp(disc: Disc, whole: Surface) -> None:
    """Codes and text about the hub."""
    inner = np.nonzero(whole.radius_mm < disc.recorded_mm[0] + 0.5)
    if not len(inner[0]):
        return
    box = tuple(slice(part.min(), part.max() + 1) for part in inner)
    relief, code = stamped(disc, whole.points_mm[box])
    whole.light[box] *= (1 - code - 0.5 * np.maximum(-relief, 0))[..., None].clip(0.1, 1)
    whole.light[box] += (np.maximum(relief, 0)[..., None] * 0.6 * whole.ambient).astype(np.float32)


def _decayed(flat: Flat, view: View, whole: Surface, metal: Array, below: Array) -> None:
    """Parted layers change what the metal sends."""
    size = whole.light.shape[:2]
    layers = {
        name: flat_on(layer, flat, view, whole.corner, size) for name, layer in flat.layers.items() if name != "grease"
    }
    if "milky" in layers:
        share = layers["milky"][..., None]
        whole.light += share * (0.4 / np.pi * whole.falls - 0.7 * metal)
    if "stain" in layers:
        whole.light -= 0.8 * layers["stain"][..., None] * STAIN * metal
    if "lost" in layers:
        share = layers["lost"][..., None]
        whole.light += share * (0.5 * below + 0.03 * whole.ambient - 0.93 * metal)
    if "fringes" in layers:
        share = layers["fringes"][..., None]
        colours = fringe_colours(layers["gap_um"])
        whole.light += (share * (0.45 * colours - 0.3)) * metal + share * 0.2 * colours * whole.mirrored
    np.maximum(whole.light, 0, out=whole.light)


def smear_grease(rng: Rng, flat: Flat, view: View, whole: Surface) -> None:
    """Grease scatters: of what is mirrored a part goes near by, and all light that falls gives some grey."""
    if "grease" not in flat.layers:
        return
    share = flat_on(flat.layers["grease"], flat, view, whole.corner, whole.light.shape[:2])[..., None]
    small = cv2.resize(whole.light, None, fx=0.125, fy=0.125, interpolation=cv2.INTER_AREA)
    wide = cv2.GaussianBlur(small, (0, 0), 0.03 * max(small.shape) + 1)
    near = cv2.resize(wide, whole.light.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    grey = rng.uniform(0.15, 0.5) / np.pi * whole.falls
    whole.light += share * (0.75 * near + grey.astype(np.float32) - whole.light)
