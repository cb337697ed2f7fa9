"""Photographs of discs held against a lamp, drawn from known millimetres, for the tests: light in, light through.

    bgr, truth = draw_against_lamp(pinholes=[Pinhole(30, 10, 0.2)], camera=Camera(), seed=3)

Light is added up in linear terms and then given a phone's tone curve (sRGB, IEC 61966-2-1), the lamp burnt out as it is
in any photograph that shows a dark disc before it. How much light a mirror, the clear plastic and a lens pass or spread
is guessed, not measured: it proves geometry and sums of light, and says nothing about how real photographs look.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from drawn import Camera, Truth, lens_of, maps, truth_of
from drawn_paint import HOLE_RADIUS_MM, MARGIN_MM, MIRROR_BAND_MM, RIM_BAND_MM, STACKING_RING_MM, Look


@dataclass(frozen=True)
class Pinhole:
    """A round hole of the mirror."""

    x_mm: float
    y_mm: float
    diameter_mm: float


@dataclass(frozen=True)
class Lamp:
    """What is behind the disc, and before it. Light in units of what just burns out."""

    level: float = 1.6
    """Of the lamp; 1 is the brightest that the photograph can show."""
    radius_mm: float = 400.0
    """Of the lamp about the disc's centre; a ceiling or a bright window reaches beyond the picture."""
    room: float = 0.01
    """Light of the room that the mirror gives back, uneven."""
    passes: float = 0.001
    """Share of the lamp that the mirror lets through everywhere."""
    mirror_mm: tuple[float, float] = (MIRROR_BAND_MM[0], RIM_BAND_MM)
    """Where the mirror begins, and how far inside the rim it ends."""
    spread: float = 0.01
    """Share of the light that lens and air spread over some tenth of the picture."""


def draw_against_lamp(
    *pinholes: Pinhole,
    diameter_mm: int = 120,
    camera: Camera | None = None,
    lamp: Lamp | None = None,
    seed: int = 0,
) -> tuple[np.ndarray, Truth]:
    """A photograph, uint8 (height_px, width_px, 3) BGR, and its truth."""
    camera, lamp = camera or Camera(), lamp or Lamp()
    rng = np.random.default_rng(seed)
    lens = lens_of(camera, diameter_mm=diameter_mm)
    per_mm = 20.0
    light, cover = _through(pinholes, lamp, diameter_mm=diameter_mm, per_mm=per_mm, rng=rng)
    map_x, map_y = maps(lens, camera, per_mm=per_mm, side=light.shape[0])
    blur = max(0.5, 0.5 * per_mm * diameter_mm / camera.disc_px)  # a pixel of the photograph sums up what falls on it
    disc = cv2.remap(cv2.GaussianBlur(light, (0, 0), blur), map_x, map_y, cv2.INTER_LINEAR)
    alpha = cv2.remap(cv2.GaussianBlur(cover, (0, 0), blur), map_x, map_y, cv2.INTER_LINEAR)
    away_mm = np.hypot(map_x - light.shape[0] / 2, map_y - light.shape[0] / 2) / per_mm
    behind = lamp.level / (1 + np.exp(np.clip((away_mm - lamp.radius_mm) / 4, -50, 50))) + lamp.room
    photo = behind * (1 - alpha) + disc
    wide = cv2.resize(photo.astype(np.float32), None, fx=1 / 16, fy=1 / 16, interpolation=cv2.INTER_AREA)
    wide = cv2.GaussianBlur(wide, (0, 0), max(1.0, camera.width_px / 16 * 0.06))
    photo = (1 - lamp.spread) * photo + lamp.spread * cv2.resize(wide, photo.shape[::-1])
    photo = cv2.GaussianBlur(photo.astype(np.float32), (0, 0), max(camera.blur_px, 0.3))
    levels = _tone(np.clip(photo, 0, 1)) * 255
    bgr = levels[..., None] + rng.normal(0, camera.noise, (*levels.shape, 3))
    return np.clip(bgr + 0.5, 0, 255).astype(np.uint8), truth_of((), lens, camera, Look(), diameter_mm=diameter_mm)


def _tone(linear: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1: from light to levels, both 0..1."""
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-9) ** (1 / 2.4) - 0.055)


def _through(
    pinholes: Sequence[Pinhole], lamp: Lamp, *, diameter_mm: int, per_mm: float, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Light that comes from each place of the disc, and how far the disc covers what is behind, float32."""
    side = int(np.ceil((diameter_mm + 2 * MARGIN_MM) * per_mm))
    along = (np.arange(side, dtype=np.float32) - side / 2) / per_mm
    radius = np.hypot(along[None], along[:, None])
    mirror = (radius > lamp.mirror_mm[0]) & (radius < diameter_mm / 2 - lamp.mirror_mm[1])
    passes = np.where(mirror, np.float32(lamp.passes), np.float32(0.85))
    ring = (radius > STACKING_RING_MM[0]) & (radius < STACKING_RING_MM[1])
    passes[ring] = 0.4
    for edge_mm in (HOLE_RADIUS_MM, 15.3, diameter_mm / 2):
        passes[np.abs(radius - edge_mm) < 0.15] = 0.3  # edges bend light away
    holes = np.zeros((side, side), np.uint8)
    for hole in pinholes:
        at = [round((value + side / 2 / per_mm) * per_mm * 16) for value in (hole.x_mm, hole.y_mm)]
        cv2.circle(holes, (at[0], at[1]), round(hole.diameter_mm / 2 * per_mm * 16), 255, -1, cv2.LINE_AA, shift=4)
    passes = np.maximum(passes, np.where(mirror, holes.astype(np.float32) / 255, 0))
    turn = rng.uniform(0, 2 * np.pi)
    room = 1 + 0.6 * np.sin((along[None] * np.cos(turn) + along[:, None] * np.sin(turn)) / 15)
    cover = ((radius > HOLE_RADIUS_MM) & (radius < diameter_mm / 2)).astype(np.float32)
    lit = lamp.level / (1 + np.exp(np.clip((radius - lamp.radius_mm) / 4, -50, 50)))
    return ((lit * passes + np.where(mirror, lamp.room * room, 0)) * cover).astype(np.float32), cover
