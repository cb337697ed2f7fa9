"""The room's light in closed form: radiance seen along any ray, irradiance on the table, colours of the grating.

Vectors are float32 tensors of shape (3, ...); radiance 1 is white paper under the room's own diffuse light.
"""

from __future__ import annotations

import math

import numpy as np
import torch
from torch import Tensor

from models.training.render.geometry import FloatArray
from models.training.render.room import Lamp, Panel, Room


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


class Light:
    """A `Room` on a device."""

    def __init__(self, room: Room, device: torch.device) -> None:
        self.room = room
        self.device = device

    def seen(self, origin: Tensor, direction: Tensor, softness: float | None = None, *, people: bool = True) -> Tensor:
        """Radiance (3, ...) arriving at `origin` from `direction`; `softness` in radians blurs the picture."""
        soft = self.room.softness_rad if softness is None else softness
        up = direction[2]
        wall, ceiling, floor = (column(c, direction) for c in (self.room.wall, self.room.ceiling, self.room.floor))
        to_ceiling = torch.sigmoid((up - 0.55) / (0.06 + soft))
        to_floor = torch.sigmoid((-up - 0.02) / (0.03 + soft))
        sideways = 1 + 0.18 * torch.sin(2 * torch.atan2(direction[1], direction[0]) + float(self.room.wall[0] * 40))
        light = wall * sideways * (0.55 + 0.45 * up.clamp(0, 1))
        light = light + (ceiling - light) * to_ceiling
        light = light + (floor - light) * to_floor
        for panel in self.room.panels:
            light = self._panel(light, panel, origin, direction, soft)
        for lamp in self.room.lamps:
            light = light + self._lamp(lamp, origin, direction, soft)
        if people:
            for panel in self.room.people:
                light = self._panel(light, panel, origin, direction, soft)
        return light

    def _panel(self, light: Tensor, panel: Panel, origin: Tensor, direction: Tensor, soft: float) -> Tensor:
        normal = np.cross(panel.across, panel.down)
        centre = column(panel.centre_mm, direction) - origin
        facing = dot(direction, column(normal, direction))
        reach = dot(centre, column(normal, direction)) / torch.where(
            facing.abs() < 1e-4, torch.full_like(facing, 1e-4), facing
        )
        hit = direction * reach - centre
        a, b = dot(hit, column(panel.across, direction)), dot(hit, column(panel.down, direction))
        edge = (soft * reach.abs() * 0.5).clamp(min=0.5)
        half_a, half_b = panel.half_mm
        if panel.round:
            inside = torch.sigmoid(
                (1 - torch.hypot(a / half_a, b / half_b)) * min(half_a, half_b) / edge.clamp(min=0.06 * half_a)
            )
        elif panel.corner_mm:
            over_a = (a.abs() - half_a + panel.corner_mm).clamp(min=0)
            over_b = (b.abs() - half_b + panel.corner_mm).clamp(min=0)
            inside = torch.sigmoid((panel.corner_mm - torch.hypot(over_a, over_b)) / edge)
        else:
            inside = torch.sigmoid((half_a - a.abs()) / edge) * torch.sigmoid((half_b - b.abs()) / edge)
        inside = inside * (reach > 0)
        for coordinate, half, panes in ((a, half_a, panel.bars[0]), (b, half_b, panel.bars[1])):
            for bar in range(1, panes):
                at = half * (2 * bar / panes - 1)
                inside = inside * (1 - 0.9 * torch.sigmoid((28 - (coordinate - at).abs()) / edge))
        shade = column(panel.radiance, direction) * (1 + panel.fade * (a / half_a).clamp(-1, 1))
        if panel.light:  # brighter sky above, buildings or trees below
            shade = shade * (0.75 - 0.35 * (b / half_b).clamp(-1, 1))
        return light + (shade - light) * inside

    def _lamp(self, lamp: Lamp, origin: Tensor, direction: Tensor, soft: float) -> Tensor:
        away = column(lamp.position_mm, direction) - origin
        distance = torch.sqrt(dot(away, away))
        angle2 = 2 * (1 - (dot(away, direction) / distance).clamp(-1, 1))
        size2 = (lamp.radius_mm / distance) ** 2
        spread2 = size2 + 2 * soft**2
        return column(lamp.radiance, direction) * (size2 / spread2) * torch.exp(-((angle2 / spread2) ** 1.5))

    def on_table(self, points: Tensor) -> Tensor:
        """Radiance (3, ...) of level white paper at `points`."""
        white = column((self.room.wall + self.room.ceiling) / 2, points) * 0.85
        for lamp in self.room.lamps:
            away = column(lamp.position_mm, points) - points
            square = dot(away, away)
            white = white + column(lamp.radiance, points) * lamp.radius_mm**2 * away[2].clamp(min=0) / square**1.5
        for panel in self.room.panels:
            if panel.light:
                away = column(panel.centre_mm, points) - points
                square = dot(away, away)
                facing = dot(away, column(np.cross(panel.across, panel.down), points)).abs()
                area = 4 * panel.half_mm[0] * panel.half_mm[1]
                white = (
                    white
                    + column(panel.radiance, points) * 0.75 * area * away[2].clamp(min=0) * facing / square**2 / math.pi
                )
        return white

    def lobes(self) -> list[tuple[FloatArray, FloatArray, float, float]]:
        """Sources for the grating: position, radiance x solid angle seen from the origin, angular radius, distance."""
        found = []
        for lamp in self.room.lamps:
            distance = float(np.linalg.norm(lamp.position_mm))
            size = lamp.radius_mm / distance
            found.append((lamp.position_mm, lamp.radiance * math.pi * size**2, size / 2, distance))
        for panel in self.room.panels:
            if not panel.light:
                continue
            columns, rows = max(2, panel.bars[0]), 3 if panel.half_mm[1] > 150 else 1
            for i in range(columns):
                for j in range(rows):
                    spot = (
                        panel.centre_mm
                        + panel.across * panel.half_mm[0] * (2 * (i + 0.5) / columns - 1)
                        + panel.down * panel.half_mm[1] * (2 * (j + 0.5) / rows - 1)
                    )
                    distance = float(np.linalg.norm(spot))
                    cell = 4 * panel.half_mm[0] * panel.half_mm[1] / (columns * rows)
                    facing = abs(float(np.dot(spot, np.cross(panel.across, panel.down)))) / distance
                    size = math.sqrt(cell) / distance
                    found.append(
                        (
                            spot,
                            panel.radiance * (0.75 - 0.35 * (2 * (j + 0.5) / rows - 1)) * cell * facing / distance**2,
                            size / 2.4,
                            distance,
                        )
                    )
        return found


def spectrum(wavelength_nm: FloatArray) -> FloatArray:
    """Linear sRGB (3, n) of a wavelength, per nm, so that an equal-energy spectrum sums to white (1, 1, 1).

    Multi-lobe fit of the CIE 1931 observer: Wyman, Sloan, Shirley, J. Computer Graphics Techniques 2 (2013) 1.
    """

    def lobe(centre: float, low: float, high: float) -> FloatArray:
        width = np.where(wavelength_nm < centre, low, high)
        return np.exp(-0.5 * ((wavelength_nm - centre) * width) ** 2)

    x = 0.362 * lobe(442.0, 0.0624, 0.0374) + 1.056 * lobe(599.8, 0.0264, 0.0323) - 0.065 * lobe(501.1, 0.0490, 0.0382)
    y = 0.821 * lobe(568.8, 0.0213, 0.0247) + 0.286 * lobe(530.9, 0.0613, 0.0322)
    z = 1.217 * lobe(437.0, 0.0845, 0.0278) + 0.681 * lobe(459.0, 0.0385, 0.0725)
    to_rgb = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])
    rgb = to_rgb @ np.stack([x, y, z])
    rgb = np.clip(rgb, 0, None) + 0.12 * np.clip(
        -rgb.min(0, keepdims=True), 0, None
    )  # out-of-gamut colours towards white
    return rgb / 90.0 * np.array([[0.90], [0.88], [0.95]])


def grating_table(pitch_nm: float, spread: float, orders: tuple[float, ...], size: int = 512) -> FloatArray:
    """Radiance density over q = |(light + eye) . radial| in 0..2 (3, size): all orders, d q = m lambda.

    Args:
        spread: angular radius of the light, blurs the colours.
        orders: share of the light in orders 1, 2, 3 ... (one side).
    """
    q = np.linspace(0, 2, size)
    table = np.zeros((3, size))
    for order, share in enumerate(orders, 1):
        table += share * pitch_nm / order * spectrum(pitch_nm * q / order)
    reach = max(spread, 0.004) * (size - 1) / 2
    steps = np.arange(-int(3 * reach) - 1, int(3 * reach) + 2)
    kernel = np.exp(-0.5 * (steps / reach) ** 2)
    kernel /= kernel.sum()
    padded = np.concatenate([table[:, ::-1], table, np.zeros((3, size))], 1)
    return np.stack([np.convolve(row, kernel, "same")[size : 2 * size] for row in padded])
