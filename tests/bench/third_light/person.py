"""Who holds the camera, as the disc mirrors them: body, head, hands, phone. Measures in mm, by eye."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.chance import Rng
from bench.other_light.optics import Array
from bench.other_light.view import View

from .room import Room, look

Way = tuple[float, float]


@dataclass(frozen=True)
class Person:
    """Colours as reflectances (3,)."""

    there: bool
    """Else the camera stands alone, and is not seen."""
    head: bool
    phone_side: int
    stand_mm: Array
    """(2,): how far aside of the camera."""
    cloth: Array
    hair: Array
    skin: Array
    shade: float
    """Share of the room's light that falls on them."""


def random_person(rng: Rng) -> Person:
    return Person(
        there=rng.random() < 0.8,
        head=rng.random() < 0.75,
        phone_side=int(rng.choice([-1, 1])),
        stand_mm=rng.normal(0, 1, 2) * [60, 40],
        cloth=rng.uniform(0.03, 0.5, 3) * rng.uniform(0.2, 1),
        hair=rng.uniform(0.02, 0.3) * np.array([1, 0.8, 0.6]),
        skin=np.array([0.45, 0.3, 0.22]) * rng.uniform(0.3, 1),
        shade=rng.uniform(0.15, 0.5),
    )


def _limb(x: Array, y: Array, start: Way, end: Way, half_from: float, half_to: float) -> Array:
    way = np.array(end) - start
    share = np.clip(((x - start[0]) * way[0] + (y - start[1]) * way[1]) / (way @ way), 0, 1)
    off = np.hypot(x - start[0] - share * way[0], y - start[1] - share * way[1])
    return np.asarray(off < half_from + (half_to - half_from) * share)


def _behind(view: View, points_mm: Array, rays: Array, behind_mm: float) -> tuple[Array, Array, Array]:
    """Where rays meet the plane across the lens's axis, so far behind the lens: to the right, down; and whether."""
    right, down, ahead = view.axes.astype(np.float32)
    middle = view.camera_mm - ahead * behind_mm
    off = np.dstack([points_mm, np.zeros(points_mm.shape[:2], np.float32)]) - middle.astype(np.float32)
    speed = rays @ ahead
    met = off - ((off @ ahead) / np.minimum(speed, -1e-3))[..., None] * rays
    return np.asarray(met @ right), np.asarray(met @ down), np.asarray(speed < -1e-3)


def reflected(room: Room, person: Person, view: View, points_mm: Array, rays: Array) -> Array:
    """Radiance (n, n, 3) that comes to points (n, n, 2) of the disc from where unit vectors (n, n, 3) point."""
    light = look(room.sharp, rays[..., 0], rays[..., 1])
    if not person.there:
        return light

    def cover(mask: Array, colour: Array, blur: float) -> None:
        soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), blur)[..., None]
        light[:] = light * (1 - soft) + soft * (colour * room.mean * person.shade).astype(np.float32)

    if person.head:
        x, y, met = _behind(view, points_mm, rays, 280)
        x, y = x + person.stand_mm[0], y + person.stand_mm[1]
        shade = np.clip(1 + 0.5 * np.sin(x / 90 + 1) * np.cos(y / 130), 0.3, 1.6)[..., None]
        cover(_body(x, y, person) & met, person.cloth * shade, 3.5)
        wavy = x + 6 * np.sin(x / 31 + person.stand_mm[1]) + 5 * np.sin(y / 23 + person.stand_mm[0])
        face = (wavy / 76) ** 2 + ((y - 10) / 108) ** 2 < 1
        cover((face | _limb(x, y, (0, 90), (0, 170), 50, 58)) & met, person.skin * shade, 3.5)
        hair = ((wavy / 84) ** 2 + ((y + 25) / 100) ** 2 < 1) & (y < -25 + 0.25 * np.abs(x))
        cover(hair & met, person.hair, 3.5)
    x, y, met = _behind(view, points_mm, rays, 15)
    for side in (-1, 1):
        hand = _limb(x, y, (side * 62, 60), (side * 78, 130), 24, 36)
        for finger in range(4):
            low = 20 * finger
            hand |= _limb(x, y, (side * (40 + 4 * finger), 25 + low), (side * 75, 45 + low), 8, 10)
        cover(hand & met, person.skin, 2.5)
    x, y, met = _behind(view, points_mm, rays, 0)
    x = x * person.phone_side
    if view.width_px > view.height_px:
        x, y = y, x
    cover((x > -16) & (x < 57) & (y > -14) & (y < 136) & met, np.array([0.03, 0.03, 0.035]), 2)
    cover((np.abs(x) < 12) & (y > -10) & (y < 30) & met, np.array([0.1, 0.1, 0.11]), 2)
    return light


def _body(x: Array, y: Array, person: Person) -> Array:
    """Trunk, shoulders, and arms that reach to the camera."""
    to_x, to_y = person.stand_mm
    body = _limb(x, y, (0, 190), (0, 900), 150, 190) | _limb(x, y, (-140, 200), (140, 200), 62, 62)
    for side in (-1, 1):
        body |= _limb(x, y, (side * 165, 210), (side * 215, 420), 52, 45)
        body |= _limb(x, y, (side * 215, 420), (side * 60 - to_x, 90 - to_y), 44, 32)
    return body
