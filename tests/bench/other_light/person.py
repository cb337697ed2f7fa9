"""Who takes the photograph, as mirrored in the disc: camera, fingers, head and body before the room."""

from __future__ import annotations

import numpy as np

from .chance import Rng, colour
from .optics import Array, grating, responses, rgb, wavelengths_nm
from .room import Room
from .view import View


def veil(distance: Array, softness: float) -> Array:
    """1 where distance is well below 0, 0 well above."""
    return np.asarray(1 / (1 + np.exp((distance / softness).clip(-60, 60))))[:, None]


class Person:
    """Ellipses and a rounded rectangle in planes square to the camera's axis, mm from it: right and down."""

    def __init__(self, rng: Rng, view: View) -> None:
        self.view, self.there = view, rng.random() < 0.85
        self.half_mm = np.array([rng.uniform(34, 40), rng.uniform(70, 82)])
        self.off_mm = np.array([rng.uniform(-0.6, 0.6), rng.uniform(0.55, 0.85)]) * self.half_mm
        if rng.random() < 0.35:
            self.half_mm, self.off_mm = self.half_mm[::-1], self.off_mm[::-1]
        self.behind_mm, self.head_mm = rng.uniform(180, 350), np.array([rng.uniform(-70, 70), rng.uniform(30, 220)])
        self.case, self.cloth = colour(rng, 0.005, 0.08, 0.3), colour(rng, 0.02, 0.4, 0.5)
        self.skin = rgb(0.55, 0.38, 0.3) * np.float32(rng.uniform(0.25, 1))
        self.hair = colour(rng, 0.02, 0.15, 0.4)

    def before(self, room: Array, points_mm: Array, directions: Array, lit: Array) -> Array:
        """The room's radiance (n, 3) with the person before it, as seen from the points along the directions."""
        facing = -(directions @ self.view.axes[2])
        if not self.there or not (facing > 0.05).any():
            return room
        start = np.column_stack([points_mm, np.zeros(len(points_mm))]) - self.view.camera_mm

        def met(behind_mm: float) -> tuple[Array, Array]:
            reach = (start @ self.view.axes[2] + behind_mm) / np.maximum(facing, 0.05)
            where = start + reach[:, None] * directions
            return where @ self.view.axes[0], where @ self.view.axes[1]

        ok = (facing > 0.05)[:, None]
        across, down = met(self.behind_mm)
        across, down = across - self.head_mm[0], down - self.head_mm[1]
        body = ok * veil(np.hypot(across / 230, np.minimum(down - 240, 0) / 260) - 0.8, 0.07)
        head = ok * veil(np.hypot(across / 78, down / 110) - 1, 0.07)
        face = self.skin + (self.hair - self.skin) * veil(down + 45, 12)
        seen = room * (1 - body) + body * self.cloth * lit
        seen = seen * (1 - head) + head * face * lit * 0.7
        across, down = met(0)
        across, down = across - self.off_mm[0], down - self.off_mm[1]
        corner = [np.maximum(np.abs(v) - half + 8, 0) for v, half in zip((across, down), self.half_mm, strict=True)]
        camera = ok * veil(np.hypot(*corner) - 8, 1.6)
        return np.asarray(seen * (1 - camera) + camera * self.case * max(float(lit.mean()), 0.1), np.float32)


class Light:
    """All that a point of the disc may mirror: the room, and the person before it."""

    def __init__(self, rng: Rng, view: View) -> None:
        self.room = Room(rng)
        self.person = Person(rng, view)
        self.lit = self.room.lit

    def from_side(self, points_mm: Array, sideways: Array, *, soft: bool = False, person: bool = True) -> Array:
        """(n, 3) that comes from directions with these sideways parts (n, 2); 0 where there is no such direction."""
        square = (sideways**2).sum(1)
        up = np.sqrt(np.clip(1 - square, 0.002, 1))
        directions = np.column_stack([sideways, up]).astype(np.float32)
        found = self.room.radiance(points_mm, directions, soft=soft)
        if person:
            found = self.person.before(found, points_mm, directions, self.lit)
        return np.asarray(found * (square < 0.998)[:, None], np.float32)

    def rainbow(
        self,
        points_mm: Array,
        sideways: Array,
        radial: Array,
        pitch_nm: float,
        orders: dict[int, float],
        count: int | None = None,
    ) -> Array:
        """(n, 3) of the grating's orders, each with its share; `count` wavelengths, or as many as look smooth."""
        total = np.zeros((len(points_mm), 3), np.float32)
        for order, share in orders.items():
            nm = wavelengths_nm(order, pitch_nm) if count is None else np.linspace(430, 640, count)
            for wavelength, response in zip(nm, responses(nm), strict=True):
                k = grating(sideways, radial, order=order, wavelength_nm=wavelength, pitch_nm=pitch_nm)
                there = (k**2).sum(1) < 0.998
                if there.any():
                    total[there] += share * response * self.from_side(points_mm[there], k[there], person=count is None)
        return total
