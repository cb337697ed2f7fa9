"""The room's light in closed form: radiance seen along any ray, irradiance on the table.

Vectors are float32 tensors of shape (3, ...); radiance 1 is white paper under the room's own diffuse light.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import torch
from torch import Tensor
from torch.nn import functional as F

from models.training.render.geometry import FloatArray
from models.training.render.room import Room, Source
from models.training.render.sky import FLATTEST, REACH, Sky

CHUNK = 1 << 18
"""Rays worked at a time: keeps the intermediate values small."""


def dot(a: Tensor, b: Tensor) -> Tensor:
    return (a * b).sum(0)


def unit(vectors: Tensor) -> Tensor:
    return vectors * torch.rsqrt((vectors * vectors).sum(0))


def column(vector: FloatArray, like: Tensor) -> Tensor:
    """A world vector as (3, 1, ...) beside `like` (3, ...)."""
    return torch.as_tensor(vector, dtype=torch.float32, device=like.device).reshape(3, *[1] * (like.ndim - 1))


def fresnel(cosine: Tensor, index: float = 1.58) -> Tensor:
    """Unpolarised reflectance of one face (Fresnel)."""
    cosine = cosine.clamp(0.02, 1)
    inside = torch.sqrt(1 - (1 - cosine**2) / index**2)
    s = (cosine - index * inside) / (cosine + index * inside)
    p = (index * cosine - inside) / (index * cosine + inside)
    return (s**2 + p**2) / 2


def reflect(towards: Tensor, normal: Tensor) -> Tensor:
    """Mirror direction of `towards` (from the surface to the eye)."""
    return 2 * dot(towards, normal) * normal - towards


@dataclass(frozen=True)
class Lobe:
    """A source for the grating: where, radiance times solid angle as seen from the origin, angular radius."""

    position_mm: FloatArray
    power: FloatArray
    size_rad: float
    source: Source = "daylight"


def _sky_seen(sky: Sky, outlines: Tensor, direction: Tensor) -> Tensor:
    """Radiance (3, n) from each direction (3, n)."""
    up = direction[2].clamp(min=0)
    spot = direction[:2] / (up + FLATTEST) / (REACH * sky.size)
    rank = F.grid_sample(outlines[None, None], spot.T[None, None], padding_mode="reflection", align_corners=True)[
        0, 0, 0
    ]
    zenith, horizon, cloud = (column(colour, direction) for colour in (sky.zenith, sky.horizon, sky.cloud))
    clear = torch.lerp(horizon, zenith, up.sqrt())
    deep = (sky.cover - rank).clamp(0, 1)
    return torch.lerp(clear, cloud * (0.75 + 0.5 * deep), torch.sigmoid((sky.cover - rank) / sky.soft))


class Light:
    """A `Room` on a device."""

    def __init__(self, room: Room, device: torch.device) -> None:
        self.room = room
        self.device = device
        panels = [*room.panels, *room.people]

        def on_device(values: Any) -> Tensor:
            return torch.tensor(np.array(values), dtype=torch.float32, device=device)

        frames = [(p.across, p.down, np.cross(p.across, p.down)) for p in panels]
        self._frames = on_device(frames)  # (panels, 3, 3): rows across, down, normal
        self._centres = on_device([[axis @ p.centre_mm for axis in f] for p, f in zip(panels, frames, strict=True)])
        self._shades = on_device([p.radiance for p in panels])
        numbers = [(*p.half_mm, p.corner_mm, p.fade, *p.bars, p.light, p.round) for p in panels]
        self._numbers = on_device(numbers).T[..., None]  # (8, panels, 1)
        self._lamps = on_device([(*lamp.position_mm, *lamp.radiance, lamp.radius_mm) for lamp in room.lamps])
        self._base = on_device([room.wall, room.ceiling, room.floor])
        self._sky = (room.sky, on_device(room.sky.outlines)) if room.sky else None
        self.lobes = self._lobes()

    def seen(self, origin: Tensor, direction: Tensor, softness: float | None = None) -> Tensor:
        """Radiance (3, ...) arriving at `origin` from `direction`; `softness` in radians blurs the picture."""
        soft = self.room.softness_rad if softness is None else softness
        origin, flat = origin.reshape(3, -1), direction.reshape(3, -1)
        pieces = zip(origin.split(CHUNK, 1), flat.split(CHUNK, 1), strict=True)
        return torch.cat([self._seen(a, b, soft) for a, b in pieces], 1).reshape(direction.shape)

    def _seen(self, origin: Tensor, direction: Tensor, soft: float) -> Tensor:
        up = direction[2]
        wall, ceiling, floor = self._base[..., None]
        if self._sky:
            light = _sky_seen(*self._sky, direction)
        else:
            turn = torch.atan2(direction[1], direction[0])
            sideways = 1 + 0.18 * torch.sin(2 * turn + float(self.room.wall[0] * 40))
            light = wall * sideways * (0.55 + 0.45 * up.clamp(0, 1))
            light = torch.lerp(light, ceiling, torch.sigmoid((up - 0.55) / (0.06 + soft)))
        light = torch.lerp(light, floor, torch.sigmoid((-up - 0.02) / (0.03 + soft)))
        inside, brightness = self._panels(origin, direction, soft)
        for number in range(len(self.room.panels)):
            light = torch.lerp(light, self._shades[number, :, None] * brightness[number], inside[number])
        for lamp in self._lamps:
            away = lamp[:3, None] - origin
            square = dot(away, away)
            angle2 = 2 * (1 - (dot(away, direction) * torch.rsqrt(square)).clamp(-1, 1))
            size2 = lamp[6] ** 2 / square
            spread2 = size2 + 2 * soft**2
            light = light + lamp[3:6, None] * (size2 / spread2 * torch.exp(-((angle2 / spread2) ** 1.5)))
        for number in range(len(self.room.panels), len(self._shades)):
            light = torch.lerp(light, self._shades[number, :, None] * brightness[number], inside[number])
        return light

    def _panels(self, origin: Tensor, direction: Tensor, soft: float) -> tuple[Tensor, Tensor]:
        """For every panel and ray: how far the ray is inside it, 0..1, and the panel's brightness there."""
        half_a, half_b, corner, fade, panes_a, panes_b, is_light, is_round = self._numbers
        towards = torch.einsum("pij,jn->ipn", self._frames, direction)
        offset = self._centres.T[..., None] - torch.einsum("pij,jn->ipn", self._frames, origin)
        reach = offset[2] / torch.where(towards[2].abs() < 1e-4, 1e-4, towards[2])
        a, b = towards[0] * reach - offset[0], towards[1] * reach - offset[1]
        edge = (soft * 0.5 * reach.abs()).clamp(min=0.5)
        beyond_a, beyond_b = a.abs() - half_a + corner, b.abs() - half_b + corner
        gap = torch.hypot(beyond_a.clamp(min=0), beyond_b.clamp(min=0)) + torch.maximum(beyond_a, beyond_b).clamp(max=0)
        oval = (torch.hypot(a / half_a, b / half_b) - 1) * torch.minimum(half_a, half_b)
        wide = torch.where(is_round > 0, torch.maximum(edge, 0.06 * half_a), edge)
        inside = torch.sigmoid(-torch.where(is_round > 0, oval, gap - corner) / wide) * (reach > 0)
        for place, half, panes in ((a, half_a, panes_a), (b, half_b, panes_b)):
            if float(panes.max()) > 1:
                pane = (place / half + 1) / 2 * panes
                bar = (pane - torch.minimum(pane.round().clamp(min=1), panes - 1)).abs() * 2 * half / panes
                inside = inside * (1 - 0.9 * torch.sigmoid((28 - bar) / edge) * (panes > 1))
        brightness = 1 + fade * (a / half_a).clamp(-1, 1)
        sky = 0.75 - 0.35 * (b / half_b).clamp(-1, 1)  # brighter sky above, buildings or trees below
        return inside, brightness * torch.where(is_light > 0, sky, 1.0)

    def on_table(self, points: Tensor, *, every: int = 1) -> Tensor:
        """Radiance (3, ...) of level white paper at `points`; of a grid (3, h, w), reckoned at every so many alone."""
        if every > 1:
            few = self.on_table(points[:, ::every, ::every])[None]
            return F.interpolate(few, size=points.shape[1:], mode="bilinear", align_corners=True)[0]
        flat = points.reshape(3, -1)
        white = (self._base[0] + self._base[1])[:, None] * 0.425 * torch.ones_like(flat)
        for lamp in self._lamps:
            away = lamp[:3, None] - flat
            white += lamp[3:6, None] * (lamp[6] ** 2 * away[2].clamp(min=0) / dot(away, away) ** 1.5)
        for number, panel in enumerate(self.room.panels):
            if panel.light:
                away = torch.tensor(panel.centre_mm, dtype=torch.float32, device=self.device)[:, None] - flat
                facing = dot(away, self._frames[number, 2, :, None]).abs()
                share = 3 * panel.half_mm[0] * panel.half_mm[1] / math.pi  # a window's mean is 0.75 of its radiance
                white += self._shades[number, :, None] * (share * away[2].clamp(min=0) * facing / dot(away, away) ** 2)
        return white.reshape(points.shape)

    def _lobes(self) -> list[Lobe]:
        found = []
        for lamp in self.room.lamps:
            size = lamp.radius_mm / float(np.linalg.norm(lamp.position_mm))
            found.append(Lobe(lamp.position_mm, lamp.radiance * math.pi * size**2, size / 2, lamp.source))
        for panel in (p for p in self.room.panels if p.light):
            columns, rows = max(2, panel.bars[0]), 3 if panel.half_mm[1] > 150 else 1
            cell = 4 * panel.half_mm[0] * panel.half_mm[1] / (columns * rows)
            for i, j in np.ndindex(columns, rows):
                a, b = 2 * (i + 0.5) / columns - 1, 2 * (j + 0.5) / rows - 1
                spot = panel.centre_mm + a * panel.half_mm[0] * panel.across + b * panel.half_mm[1] * panel.down
                distance = float(np.linalg.norm(spot))
                facing = abs(float(spot @ np.cross(panel.across, panel.down))) / distance
                power = panel.radiance * (0.75 - 0.35 * b) * cell * facing / distance**2
                found.append(Lobe(spot, power, math.sqrt(cell) / distance / 2.4, panel.source))
        return found

    @property
    def main_position_mm(self) -> FloatArray:
        """Where most light comes from; straight above when it comes from everywhere."""
        strongest = max(self.lobes, key=lambda lobe: float(lobe.power.sum()), default=None)
        return np.array([0.0, 0.0, 2000.0]) if strongest is None else strongest.position_mm
