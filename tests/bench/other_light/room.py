"""The light that falls on the table, from all sides: walls, windows, lamps, sky, kept as a map of the hemisphere.

The map is an equal-area one: a direction (x, y, z) lies at (x, y) / sqrt(1 + z) of its disc. Radiances are such that a
lit white wall is about 1 (chosen by eye), lengths in units of about a metre.
"""

from __future__ import annotations

import cv2
import numpy as np

from .chance import Rng, cloud, colour, log_uniform, ramp
from .optics import Array, rgb

SIDE = 640
KINDS = ("room", "room", "room", "office", "dark", "outdoor", "soft", "lamp")


def picked(image: Array, x: Array, y: Array) -> Array:
    """Values (n, channels) of an image between its pixels; as OpenCV takes no row longer than 32767, in several."""
    parts = []
    for start in range(0, len(x), 1 << 20):
        columns, rows = (
            np.resize(
                v[start : start + (1 << 20)].astype(np.float32), (-(-len(v[start : start + (1 << 20)]) // 1024), 1024)
            )
            for v in (x, y)
        )
        found = cv2.remap(image, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        parts.append(found.reshape(columns.size, -1)[: len(x) - start])
    return np.concatenate(parts) if parts else np.zeros((0, image.shape[2]), np.float32)


class Room:
    """Radiance from every direction above the table, drawn at random."""

    def __init__(self, rng: Rng) -> None:
        self.rng, self.kind = rng, str(rng.choice(KINDS))
        v, u = (np.mgrid[0:SIDE, 0:SIDE].astype(np.float32) + 0.5) / SIDE * 2 - 1
        square = u**2 + v**2
        stretch = np.sqrt(np.clip(2 - square, 0, 2))
        self.x, self.y, self.z = u * stretch, v * stretch, np.clip(1 - square, 0, 1)
        self.inside, self.turn, self.height = square < 1, np.arctan2(self.y, self.x), np.arcsin(self.z)
        self.windows = self.lamps = 0
        self.reach_mm = rng.uniform(900, 3000)
        """How far away it all is: as seen from 100 mm to the right, a direction has turned by 100 / reach."""
        self.map: Array = np.zeros((SIDE, SIDE, 3), np.float32)
        self._walls()
        self._furniture()
        self._lights()
        self._finish()

    def _from(self, turn: float) -> Array:
        """Angle about the vertical from a direction."""
        return np.asarray((self.turn - turn + np.pi) % (2 * np.pi) - np.pi)

    def _walls(self) -> None:
        rng = self.rng
        wall, ceiling = colour(rng, 0.15, 0.7, 0.2), colour(rng, 0.35, 1.1, 0.08)
        if self.kind == "dark":
            wall, ceiling = colour(rng, 0.01, 0.05, 0.2), colour(rng, 0.01, 0.06, 0.1)
        elif self.kind == "outdoor":
            wall, ceiling = colour(rng, 0.2, 0.8, 0.3), colour(rng, 1.5, 4, 0.05) * rgb(0.85, 1, 1.2)
        elif self.kind == "soft":
            wall, ceiling = colour(rng, 0.8, 1.6, 0.05), colour(rng, 1.2, 2.2, 0.04)
        turned = rng.uniform(0, np.pi)
        along = self.x * np.cos(turned) + self.y * np.sin(turned)
        across = self.y * np.cos(turned) - self.x * np.sin(turned)
        to_walls = np.stack([rng.uniform(1, 3.5) / (np.abs(way) + 1e-4) for way in (along, across)])
        to_ceiling = rng.uniform(1.2, 2.0) / (self.z + 1e-4)
        overhead = (1 / (1 + np.exp(((to_ceiling - to_walls.min(0)) * 8).clip(-60, 60))))[..., None]
        which = np.where(to_walls[0] < to_walls[1], along > 0, 2 + (across > 0))
        shade = 1 + 0.35 * (self.x * np.cos(turned + 1) + self.y * np.sin(turned + 1))[..., None]
        each = rng.uniform(0.45, 1.3, 4)[which][..., None]
        self.map += (shade * ((1 - overhead) * each * wall + overhead * ceiling)).astype(np.float32)

    def _furniture(self) -> None:
        rng = self.rng
        for _ in range(rng.integers(4, 22)):
            top = rng.uniform(0, 0.7)
            here = np.abs(self._from(rng.uniform(-np.pi, np.pi))) < rng.uniform(0.04, 0.4)
            here &= (self.height < top) & (self.height > top - rng.uniform(0.05, 0.5))
            self.map[here] = self.map[here] * rng.uniform(0.1, 1.2) + colour(rng, 0, 0.12, 0.6)
        self.map *= (1 + 0.12 * cloud(rng, SIDE, SIDE, 40)).clip(0.3, 2)[..., None]

    def _window(self, size: float = 1.0) -> None:
        rng = self.rng
        off, half = self._from(rng.uniform(-np.pi, np.pi)), rng.uniform(0.12, 0.55) * size
        low = rng.uniform(0.05, 0.6)
        high = low + rng.uniform(0.2, 0.7)
        pane = (np.abs(off) < half) & (self.height > low) & (self.height < high)
        bars = rng.integers(2, 5)
        frame = np.abs((off / half + 1) / 2 * bars % 1 - 0.5) > 0.5 - 0.017 * bars / half / 2
        frame |= np.abs(self.height - (low + high) / 2) < 0.012
        bright = 0.55 + 0.45 * ramp(low, high, self.height)
        if rng.random() < 0.4:  # blinds
            bright = bright * (0.75 + 0.25 * np.sign(np.sin(self.height * rng.uniform(60, 140))))
        sky = log_uniform(rng, 2.5, 14) * np.array([rng.uniform(0.8, 1), rng.uniform(0.93, 1), rng.uniform(0.95, 1.25)])
        self.map[pane] = (bright * np.where(frame, 0.1, 1))[pane][:, None] * sky
        self.windows += 1

    def _lamp(self, radius: float, bright: float, *, warm: bool, lowest: float = 0.35) -> None:
        rng = self.rng
        turn, height = rng.uniform(-np.pi, np.pi), rng.uniform(lowest, 1.45)
        way = np.cos(height) * np.cos(turn) * self.x + np.cos(height) * np.sin(turn) * self.y + np.sin(height) * self.z
        off = np.arccos(np.clip(way, -1, 1))
        tint = [1, rng.uniform(0.72, 0.95), rng.uniform(0.45, 0.85)] if warm else [rng.uniform(0.85, 1), 1, 1.05]
        glow = bright / (1 + np.exp(((off - radius) / (0.12 * radius)).clip(-60, 60)))
        self.map += (glow[..., None] * np.array(tint)).astype(np.float32)
        self.lamps += 1

    def _panels(self) -> None:
        """A ceiling of lit panels or tubes in rows."""
        rng = self.rng
        turned, up = rng.uniform(0, np.pi), 1.5 / (self.z + 0.02)
        along = (self.x * np.cos(turned) + self.y * np.sin(turned)) * up + rng.uniform(0, 2)
        across = (self.y * np.cos(turned) - self.x * np.sin(turned)) * up + rng.uniform(0, 2)
        half = (rng.uniform(0.06, 0.15), rng.uniform(0.5, 1.0)) if rng.random() < 0.6 else (0.3, 0.3)
        apart = rng.uniform(1, 2.4), half[1] * 2 + rng.uniform(0.2, 0.8)
        lit = (np.abs(along % apart[0] - apart[0] / 2) < half[0]) & (np.abs(across % apart[1] - apart[1] / 2) < half[1])
        self.map[lit & (self.z > 0.15)] = rng.uniform(8, 25) * np.array([rng.uniform(0.85, 1), 1, 1.05])
        self.lamps += 4

    def _lights(self) -> None:
        rng = self.rng
        if self.kind in ("room", "soft"):
            for _ in range(rng.integers(1, 4)):
                self._window()
        if (self.kind == "lamp" and rng.random() < 0.5) or (self.kind == "office" and rng.random() < 0.4):
            self._window(0.7)
        if self.kind in ("room", "soft", "lamp"):
            for _ in range(rng.integers(self.kind == "lamp", 4)):
                size, bright = log_uniform(rng, 0.018, 0.11), log_uniform(rng, 15, 150)
                self._lamp(size, bright, warm=rng.random() < 0.6)
        elif self.kind == "dark":
            for _ in range(rng.integers(1, 3)):
                self._lamp(log_uniform(rng, 0.02, 0.06), log_uniform(rng, 60, 400), warm=False, lowest=0.7)
        elif self.kind == "office":
            self._panels()
        elif self.kind == "outdoor":
            if rng.random() < 0.4:  # the sun, wider and weaker than it is
                self._lamp(0.02, 2500, warm=False, lowest=0.5)
            skyline = np.interp(self.turn, np.linspace(-np.pi, np.pi, 360), 0.25 + 0.2 * cloud(rng, 1, 360, 20)[0])
            self.map[self.height < skyline] = colour(rng, 0.05, 0.4, 0.4)

    def _finish(self) -> None:
        self.map[~self.inside] = 0
        weight = (self.map * self.z[..., None])[self.inside]
        self.lit = np.asarray(2 * weight.mean(0), np.float32)
        """(3,) irradiance of the table over pi: the radiance of white paper."""
        grey = weight.sum(1)
        self.lean = np.array([(grey * self.x[self.inside]).sum(), (grey * self.y[self.inside]).sum()]) / grey.sum()
        """(2,) from where most of it comes, sideways."""
        small, there = (
            cv2.resize(image, (160, 160), interpolation=cv2.INTER_AREA)
            for image in (self.map, self.inside.astype(np.float32))
        )

        def spread(sigma: float) -> Array:
            soft = cv2.GaussianBlur(small, (0, 0), sigma) / cv2.GaussianBlur(there, (0, 0), sigma).clip(0.05)[..., None]
            return np.asarray(cv2.resize(soft, (SIDE, SIDE), interpolation=cv2.INTER_LINEAR))

        self.soft = 0.6 * spread(5) + 0.4 * spread(16)
        """The same as grease or dull plastic mirrors it."""
        self.map = cv2.GaussianBlur(self.map, (0, 0), self.rng.uniform(1.5, 5))
        """The camera is focused on the disc, not on what the disc mirrors."""

    def radiance(self, points_mm: Array, directions: Array, *, soft: bool) -> Array:
        """(n, 3) that arrives at points (n, 2) from directions (n, 3)."""
        away = directions + np.column_stack([points_mm / self.reach_mm, np.zeros(len(points_mm), np.float32)])
        away /= np.linalg.norm(away, axis=1, keepdims=True)
        shrink = 1 / np.sqrt(1 + away[:, 2])
        x, y = ((away[:, axis] * shrink + 1) * SIDE / 2 - 0.5 for axis in (0, 1))
        return picked(self.soft if soft else self.map, x, y)
