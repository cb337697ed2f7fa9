"""A room as flat painted cards in space, and as lamps: what a mirror shows of them, and what light comes from them.

Cards are looked at by rays, so that near ones (the phone, a hand's breadth off) shift over the disc as they should, and
each is blurred by how far it lies beyond the focus. Lamps are the bright ones once more, as round patches that a
closed form can handle: the grating, grooves and the table ask only these. Radiances are relative.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from bench.other_light.optics import Array


@dataclass(frozen=True)
class Card:
    """A parallelogram with a picture on it."""

    corner_mm: Array
    """(3,), where the picture's first pixel lies."""
    along_mm: Array
    """(3,), the edge on which its columns follow each other."""
    down_mm: Array
    """(3,)"""
    paint: Array
    """float32 (h, w, 4): radiance times opacity in red, green and blue; opacity."""
    shines: bool = False
    """Whether lamps stand for its light."""

    @property
    def middle_mm(self) -> Array:
        return np.asarray(self.corner_mm + (self.along_mm + self.down_mm) / 2)


def painted(radiance: Array, opacity: Array | None = None) -> Array:
    """A card's paint (h, w, 4) from a picture (h, w, 3)."""
    cover = np.ones(radiance.shape[:2], np.float32) if opacity is None else opacity.astype(np.float32)
    return np.dstack([radiance * cover[..., None], cover]).astype(np.float32)


@dataclass(frozen=True)
class Lamp:
    """A round, even patch of light."""

    place_mm: Array
    """(3,)"""
    radius_mm: float
    radiance: Array
    """(3,)"""
    facing: Array | None = None
    """(3,) unit vector; None shines all ways alike."""
    apart_mm: float = 0.0
    """How far its neighbours of the same card lie: lamps of a long tube must run into one light."""

    def from_points(self, points_mm: Array) -> tuple[Array, Array, Array]:
        """For points (..., 2) of the disc's plane: the irradiance, (...,), for a radiance of 1; the sideways part of
        the direction to the lamp, (..., 2); and the deviation of its light about that, in sines, (...,)."""
        place = self.place_mm.astype(np.float32)
        way = np.concatenate([place[:2] - points_mm, np.full((*points_mm.shape[:-1], 1), place[2])], -1)
        far = np.linalg.norm(way, axis=-1)
        way = way / far[..., None]
        size = np.float32(self.radius_mm) / far
        cosine = np.clip(way[..., 2], 0, 1)
        shown = 1.0 if self.facing is None else np.abs(way @ self.facing.astype(np.float32))
        spread = np.float32(max(self.radius_mm / 2, 0.4 * self.apart_mm)) / far
        return np.asarray(np.pi * size**2 * cosine * shown), way[..., :2], spread


@dataclass
class Scene:
    """All about the disc. Cards that stand farther come first."""

    name: str
    zenith: Array
    """(3,), what is seen straight up where no card is"""
    horizon: Array
    """(3,)"""
    cards: list[Card] = field(default_factory=list)
    lamps: list[Lamp] = field(default_factory=list)

    def hang(self, card: Card, lamps: tuple[int, int] = (0, 0)) -> None:
        """Adds a card, and as many lamps in its stead, rows by columns."""
        rows, columns = lamps
        self.cards.append(replace(card, shines=rows > 0))
        if rows:
            area = float(np.linalg.norm(np.cross(card.along_mm, card.down_mm))) / rows / columns
            normal = np.cross(card.along_mm, card.down_mm)
            apart = max(np.linalg.norm(card.along_mm) / columns, np.linalg.norm(card.down_mm) / rows)
            shades = cv2.resize(card.paint, (columns, rows), interpolation=cv2.INTER_AREA)[..., :3].reshape(-1, 3)
            steps = [((c + 0.5) / columns, (r + 0.5) / rows) for r in range(rows) for c in range(columns)]
            for shade, (right, low) in zip(shades, steps, strict=True):
                place = card.corner_mm + right * card.along_mm + low * card.down_mm
                self.lamps.append(
                    Lamp(place, float(np.sqrt(area / np.pi)), shade, normal / np.linalg.norm(normal), float(apart))
                )

    def beyond(self, rays: Array) -> Array:
        """What rays (..., 3) meet that pass all cards."""
        up = np.clip(rays[..., 2:], 0, 1) ** 0.6
        return np.asarray(self.horizon + (self.zenith - self.horizon) * up, np.float32)

    def look(self, points_mm: Array, rays: Array, blur_of: tuple[float, float]) -> Array:
        """What is seen from points (h, w, 2) of the disc's plane along rays (h, w, 3), (h, w, 3).

        Args:
            blur_of: deviation of the blur, in grid steps, of what lies infinitely far; and the distance of the focus,
                mm. What lies d beyond it is blurred by d / (d + focus) of that (thin lens, textbook).
        """
        seen = self.beyond(rays)
        for card in self.cards:
            layer = _traced(card, points_mm, rays)
            if layer is None:
                continue
            far = float(np.linalg.norm(card.middle_mm))
            blur = blur_of[0] * far / (far + blur_of[1])
            if blur > 0.2:
                layer = cv2.GaussianBlur(layer, (0, 0), blur)
            seen = seen * (1 - layer[..., 3:]) + layer[..., :3]
        return np.asarray(seen)

    def ambient(self) -> Array:
        """The mean radiance, by cosine, of the half space above without what lamps stand for, (3,)."""
        high, turn = np.meshgrid(np.linspace(0.05, 0.95, 10), np.linspace(0, 2 * np.pi, 24, endpoint=False))
        flat = np.sqrt(1 - high**2)
        rays = np.stack([flat * np.cos(turn), flat * np.sin(turn), high], -1).astype(np.float32)
        dark = np.array([0, 0, 0, 1], np.float32)
        unlit = [replace(card, paint=card.paint * dark) if card.shines else card for card in self.cards]
        without = Scene(self.name, self.zenith, self.horizon, unlit)
        seen = without.look(np.zeros((*high.shape, 2), np.float32), rays, (0.0, 1.0))
        return np.asarray((seen * high[..., None]).sum((0, 1)) / high.sum())

    def falls(self, points_mm: Array, ambient: Array) -> Array:
        """Irradiance (..., 3) on the plane at points (..., 2)."""
        total = np.zeros((*points_mm.shape[:-1], 3), np.float32) + np.pi * ambient.astype(np.float32)
        for lamp in self.lamps:
            total += lamp.from_points(points_mm)[0][..., None] * lamp.radiance.astype(np.float32)
        return np.asarray(total)


def _traced(card: Card, points_mm: Array, rays: Array) -> Array | None:
    """The card as rays (h, w, 3) from points (h, w, 2) meet it, (h, w, 4); None if none does."""
    edges = np.stack([card.along_mm, card.down_mm, np.cross(card.along_mm, card.down_mm)], 1)
    back = np.linalg.inv(edges)
    start = (-(back @ card.corner_mm)).astype(np.float32) + points_mm @ back[:, :2].T.astype(np.float32)
    way = rays @ back.T.astype(np.float32)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = -start[..., 2] / way[..., 2]
        right, low = (start[..., axis] + reach * way[..., axis] for axis in (0, 1))
    met = (reach > 0) & (right > -0.1) & (right < 1.1) & (low > -0.1) & (low < 1.1)
    if not met.any():
        return None
    height, width = card.paint.shape[:2]
    columns = np.where(met, right * width - 0.5, -9).astype(np.float32)
    rows = np.where(met, low * height - 0.5, -9).astype(np.float32)
    return np.asarray(cv2.remap(card.paint, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT))
