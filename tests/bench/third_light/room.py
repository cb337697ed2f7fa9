"""A box with windows and lamps about the table, as light from every direction above it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import Array

SIDE = 768
WARM, COOL, NEUTRAL = np.array([1.0, 0.8, 0.55]), np.array([0.85, 0.95, 1.1]), np.array([1, 0.98, 0.95])


def look(light: Array, x: Array, y: Array) -> Array:
    """Radiance (..., 3) from directions whose unit vectors have these x and y (each two-dimensional)."""
    half = len(light) / 2
    columns, rows = (((axis + 1) * half - 0.5).astype(np.float32) for axis in (x, y))
    return cv2.remap(light, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


@dataclass(frozen=True)
class Room:
    """Pictures of radiance (side, side, 3) over x and y of the direction, blurred by how rough the mirror is."""

    sharp: Array
    tracks: Array
    """As the tracks of a disc spread it."""
    rough: tuple[Array, Array]
    """As grooves do, the finer and the coarser."""
    mean: Array
    """(3,): what a white surface sends back."""
    lean: Array
    """(2,): where most of the light comes from."""


class _Box:
    """Where the rays from the table meet the walls, and what is painted there."""

    def __init__(self, rng: Rng) -> None:
        axis = ((np.arange(2 * SIDE) + 0.5) / SIDE - 1).astype(np.float32)
        self.dx, self.dy = np.meshgrid(axis, axis)
        self.square = self.dx**2 + self.dy**2
        up = np.sqrt(np.maximum(1 - self.square, 1e-4))
        self.turn = rng.uniform(0, 2 * np.pi) if rng.random() < 0.5 else rng.normal(0, 0.1)
        cos, sin = np.cos(self.turn), np.sin(self.turn)
        x, y = cos * self.dx + sin * self.dy, -sin * self.dx + cos * self.dy
        self.high, self.walls = rng.uniform(1300, 2000), rng.uniform(700, 3500, 4)
        left, right, front, back = self.walls
        far = np.stack(
            [
                self.high / up,
                np.where(x > 0, right, left) / np.maximum(np.abs(x), 1e-3),
                np.where(y > 0, back, front) / np.maximum(np.abs(y), 1e-3),
            ]
        )
        nearest = far.argmin(0)
        self.face = np.choose(nearest, [0, np.where(x > 0, 1, 2), np.where(y > 0, 3, 4)])
        self.x, self.y, self.z = (way * far.min(0) for way in (x, y, up))
        self.slant = x / up, y / up
        self.level = log_uniform(rng, 0.18, 0.9)

    def along(self, face: int) -> Array:
        return np.asarray(self.y if face in (1, 2) else self.x)

    def painted(self, rng: Rng) -> Array:
        """Ceiling, walls, furniture, patches of light and shade."""
        ceiling = (0.8 + 0.2 * rng.random(3)) * rng.uniform(0.9, 1.2)
        walls = rng.uniform(0.35, 1.0, (4, 1)) * (0.7 + 0.3 * rng.random((4, 3)))
        light = (self.level * np.array([ceiling, *walls])).astype(np.float32)[self.face]
        fall = (self.x * np.cos(self.turn * 3) + self.y * np.sin(self.turn * 3)) / 3000 * rng.uniform(0.5, 3)
        corner = 1 - 0.35 * np.exp(-np.abs(self.high - self.z) / 250) * (self.face > 0)
        light *= (np.clip(1 + 0.4 * fall, 0.3, 2) * corner)[..., None]
        for _ in range(rng.integers(1, 6)):
            face, middle, wide, top = int(rng.integers(1, 5)), *rng.uniform([-1800, 200, 100], [1800, 900, 1100])
            here = (self.face == face) & (np.abs(self.along(face) - middle) < wide) & (self.z < top)
            light[here] *= rng.uniform(0.15, 0.7)
        for _ in range(rng.integers(2, 6)):
            x, y = rng.uniform(-0.8, 0.8, 2)
            patch = np.exp(-((self.dx - x) ** 2 + (self.dy - y) ** 2) / rng.uniform(0.15, 0.6) ** 2)
            light *= (1 + rng.uniform(-0.5, 0.8) * patch)[..., None]
        if rng.random() < 0.3:  # boards of the ceiling
            board = np.abs((self.x + 5000) % rng.uniform(400, 900) - 100) < rng.uniform(8, 60)
            light[(self.face == 0) & board] *= rng.uniform(0.5, 0.85)
        return np.asarray(light)

    def windows(self, rng: Rng, light: Array) -> None:
        sky = (COOL if rng.random() < 0.6 else NEUTRAL) * rng.uniform(3, 14) * self.level
        for face in 1 + rng.permutation(4)[: rng.choice([1, 1, 2])]:
            along, start = self.along(face), rng.uniform(-1500, 500)
            wide, gap, sill = rng.uniform([400, 60, -100], [900, 300, 400])
            top = rng.uniform(900, self.high - 100)
            share = (self.z - sill) / (top - sill)
            for pane in range(rng.integers(1, 4)):
                off = along - start - pane * (wide + gap)
                here = (self.face == face) & (off > 0) & (off < wide) & (share > 0) & (share < 1)
                here &= (np.abs(off - wide / 2) > 25) & (np.abs(share - 0.62) * (top - sill) > 25)
                if rng.random() < 0.25:  # blinds
                    here &= (self.z + 2000) % 50 > rng.uniform(10, 30)
                light[here] = sky * (0.6 + 0.5 * share[here, None])

    def lamp(self, rng: Rng, light: Array) -> Array:
        """Returns the glow about it."""
        tone = (WARM, NEUTRAL, NEUTRAL, COOL)[rng.integers(4)]
        left, right, front, back = self.walls
        kind = rng.random()
        drop = self.high - (rng.uniform(0, 500) if kind > 0.5 else 0)
        x = self.slant[0] * drop - np.clip(rng.normal(0, 900), -left, right)
        y = self.slant[1] * drop - np.clip(rng.normal(0, 900), -front, back)
        power = self.level * log_uniform(rng, 12, 60)
        if kind < 0.3:  # a panel
            here, power = (np.abs(x) < rng.uniform(60, 300)) & (np.abs(y) < rng.uniform(300, 600)), 0.35 * power
        elif kind < 0.75:
            here = x**2 + y**2 < rng.uniform(50, 200) ** 2
        else:  # a ring of bulbs
            turns = 1.3 * np.arange(rng.integers(3, 9))
            bulbs = [(x - 250 * np.cos(t)) ** 2 + (y - 250 * np.sin(t)) ** 2 < 45**2 for t in turns]
            here, power = np.any(bulbs, axis=0), 2.5 * power
        light[here] = tone * power
        glow = np.exp(-(x**2 + y**2) / rng.uniform(300, 900) ** 2) * rng.uniform(0.1, 0.9) * self.level
        return np.asarray(glow[..., None] * tone.astype(np.float32))


def random_room(rng: Rng) -> Room:
    box = _Box(rng)
    light = box.painted(rng)
    bright = np.zeros_like(light)
    day = rng.random() < 0.75
    if day:
        box.windows(rng, bright)
    for _ in range(rng.choice([0, 1, 1, 2, 3] if day else [1, 1, 2, 3])):
        light += box.lamp(rng, bright)
    if rng.random() < 0.12:  # a near desk lamp, or the flash
        x, y = rng.uniform(-0.6, 0.6, 2)
        here = (box.dx - x) ** 2 + (box.dy - y) ** 2 < rng.uniform(0.02, 0.05) ** 2
        bright[here] = NEUTRAL * box.level * rng.uniform(100, 300)
    light = np.where(bright > 0, bright, light)
    light *= np.clip((1.02 - np.sqrt(box.square)) / 0.03, 0.02, 1)[..., None]
    light = cv2.resize(light.astype(np.float32), (SIDE, SIDE), interpolation=cv2.INTER_AREA)
    axis = (np.arange(SIDE) + 0.5) / SIDE * 2 - 1
    inside = axis[None] ** 2 + axis[:, None] ** 2 < 0.98
    weight = np.where(inside, light.sum(2), 0)
    small = cv2.resize(light, (192, 192), interpolation=cv2.INTER_AREA)
    return Room(
        sharp=cv2.GaussianBlur(light, (0, 0), rng.uniform(1.2, 3.5)),
        tracks=cv2.GaussianBlur(light, (0, 0), rng.uniform(2.5, 5)),
        rough=(cv2.GaussianBlur(small, (0, 0), 3.0), cv2.GaussianBlur(small, (0, 0), 8.0)),
        mean=light[inside].mean(0),  # even over x and y of the direction is by the cosine: irradiance over pi
        lean=np.array([(weight * axis[None]).sum(), (weight * axis[:, None]).sum()]) / weight.sum(),
    )
