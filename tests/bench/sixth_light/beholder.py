"""Who takes the photograph, as the disc shows it: the phone, the hand about it, head and body; and near edges."""

from __future__ import annotations

import numpy as np
from bench.other_light.chance import Rng, colour, log_uniform
from bench.other_light.optics import Array
from bench.other_light.view import View

from .brush import fill
from .panorama import Card, Panorama

SKINS = ([0.62, 0.42, 0.32], [0.5, 0.32, 0.22], [0.33, 0.2, 0.13], [0.14, 0.08, 0.055], [0.7, 0.5, 0.4])


def skin_of(rng: Rng) -> Array:
    return np.array(SKINS[rng.integers(len(SKINS))]) * rng.uniform(0.85, 1.1)


class _Sheet:
    """A card's paint, places in mm from its middle."""

    def __init__(self, wide_mm: int, high_mm: int) -> None:
        self.paint = np.zeros((high_mm, wide_mm, 4), np.float32)
        self.middle = np.array([wide_mm / 2 - 0.5, high_mm / 2 - 0.5])

    def shape(self, outline_mm: Array, radiance: Array) -> None:
        fill(self.paint, outline_mm + self.middle, np.append(radiance, 1.0))

    def capsule(self, start: Array, end: Array, radius: float, radiance: Array) -> None:
        """Lit from one side, so that it looks round."""
        along = (end - start) / max(1e-6, float(np.linalg.norm(end - start)))
        turn = np.arctan2(along[1], along[0])
        for size, shade in ((1.0, 0.75), (0.8, 1.0), (0.45, 1.12)):
            ways = [turn + np.pi / 2 + np.linspace(0, np.pi, 20), turn - np.pi / 2 + np.linspace(0, np.pi, 20)]
            ends = [
                middle + size * radius * np.stack([np.cos(way), np.sin(way)], 1)
                for way, middle in zip(ways, (start, end), strict=True)
            ]
            self.shape(np.concatenate(ends), radiance * shade)


def rounded(left: float, top: float, right: float, bottom: float, radius: float) -> Array:
    """A rectangle with round corners."""
    turn = np.linspace(0, np.pi / 2, 8)
    inner = (left + radius, top + radius, right - radius, bottom - radius)
    corners = (inner[2:], (inner[0], inner[3]), inner[:2], (inner[2], inner[1]))
    return np.concatenate(
        [
            np.array(at) + radius * np.stack([np.cos(turn + k * np.pi / 2), np.sin(turn + k * np.pi / 2)], 1)
            for k, at in enumerate(corners)
        ]
    )


def _phone(rng: Rng, view: View, dim: Array, flash: Array | None, skin: Array) -> Card:
    sheet = _Sheet(420, 420)
    case = dim * colour(rng, 0.02, 0.7, 0.4) * rng.choice([0.15, 0.4, 1.0])
    wide, high = rng.uniform(68, 80), rng.uniform(138, 168)
    left, top = -rng.uniform(12, 24), -rng.uniform(10, 24)
    if rng.random() < 0.3:
        left = -wide / 2
    body = rounded(left, top, left + wide, top + high, rng.uniform(6, 14))
    grip = rng.uniform(0.45, 0.8) * high + top
    sheet.capsule(np.array([left + wide / 2, top + high + 20]), np.array([left + 2 * wide, 420.0]), 38, skin * dim)
    sheet.shape(body, case)
    island = rounded(left + 5, top + 4, left + rng.uniform(28, 42), top + rng.uniform(28, 48), 6)
    sheet.shape(island, case * rng.uniform(0.5, 1.4))
    turn = np.linspace(0, 2 * np.pi, 24)
    ring = np.stack([np.cos(turn), np.sin(turn)], 1)
    for at in (np.zeros(2), np.array([0.0, rng.uniform(13, 19)]))[: rng.integers(1, 3)]:
        sheet.shape(at + 7 * ring, case * 0.5 + 0.05 * dim)
        sheet.shape(at + 4.5 * ring, dim * 0.01)
    for side in (left - 2, left + wide + 2):
        for k in range(int(rng.integers(1, 5))):
            tip = np.array([side + np.sign(left + wide / 2 - side) * rng.uniform(4, 14), grip + 19 * k])
            sheet.capsule(np.array([side + np.sign(side) * 8, grip + 19 * k + 5]), tip, 8.5, skin * dim)
    if flash is not None:
        sheet.shape(np.array([rng.uniform(9, 14), 0.0]) + 2.5 * ring, flash)
    paint = sheet.paint
    axes = view.axes
    if view.width_px > view.height_px:  # held across: its top lies to the left or right
        axes = np.stack([axes[1], -axes[0], axes[2]]) * np.array([[-1], [-1], [1]])
    return Card(view.camera_mm, axes, paint)


def _person(rng: Rng, view: View, dim: Array, skin: Array) -> Card:
    sheet = _Sheet(1000, 1200)
    cloth, hair = dim * colour(rng, 0.02, 0.5, 0.6), dim * colour(rng, 0.01, 0.2, 0.3)
    head = np.array([rng.normal(0, 90), rng.uniform(-120, 160)])
    turn = np.linspace(0, 2 * np.pi, 40)
    ring = np.stack([np.cos(turn), np.sin(turn)], 1)
    neck = head + np.array([0.0, 140])
    sheet.shape(rounded(neck[0] - 230, neck[1] + 10, neck[0] + 230, 580, 90), cloth)
    sheet.capsule(neck + np.array([-200, 120]), np.array([neck[0] - 300, 560.0]), 55, cloth * 1.2)
    sheet.capsule(neck + np.array([200, 120]), np.array([neck[0] + 300, 560.0]), 55, cloth * 0.8)
    sheet.shape(rounded(neck[0] - 55, neck[1] - 80, neck[0] + 55, neck[1] + 40, 30), skin * dim * 0.7)
    sheet.shape(head + ring * [92, 125] - [0.0, 18], hair)
    sheet.shape(head + ring * [76, 100] + [0.0, 14], skin * dim)
    back = rng.uniform(160, 420)
    return Card(view.camera_mm - back * view.axes[2], view.axes, sheet.paint)


def _edge(rng: Rng, dim: Array) -> Card:
    """A board, a monitor's back, a lamp's arm: something upright or across, close to the table."""
    wide = int(rng.uniform(200, 900))
    high = int(log_uniform(rng, 20, 400))
    sheet = _Sheet(wide, high)
    paint = dim * colour(rng, 0.03, 0.8, 0.4)
    sheet.shape(rounded(-wide / 2 + 1, -high / 2 + 1, wide / 2 - 1, high / 2 - 1, 5), paint)
    sheet.shape(rounded(-wide / 2 + 1, high / 2 - 9, wide / 2 - 1, high / 2 - 1, 2), paint * rng.uniform(0.4, 1.8))
    turn, far = rng.uniform(0, 2 * np.pi), rng.uniform(180, 500)
    way = np.array([np.cos(turn), np.sin(turn)])
    right = np.array([-way[1], way[0], 0.0])
    lean = rng.uniform(-0.4, 0.4)
    down = np.array([*(way * np.sin(lean)), -np.cos(lean)])
    middle = np.append(far * way, high / 2 + (rng.uniform(80, 400) if rng.random() < 0.5 else 5))
    return Card(middle, np.stack([right, down, np.cross(right, down)]), sheet.paint)


def stand_there(rng: Rng, room: Panorama, view: View) -> None:
    """Hangs up all that is near, the farthest first; what faces the table is lit by what the table throws back."""
    dim = room.white_matt(np.zeros((1, 2), np.float32))[0] * rng.uniform(0.12, 0.45)
    skin = skin_of(rng)
    flash = None
    if room.name == "flash":
        flash = np.array([1.0, 0.96, 0.88]) * log_uniform(rng, 1.5, 6) * 1e4
        dim = dim + 0.03
    if rng.random() < 0.75:
        room.cards.append(_person(rng, view, dim, skin))
    for _ in range(int(rng.choice([0, 0, 1, 2]))):
        room.cards.append(_edge(rng, dim * rng.uniform(0.6, 2)))
    room.cards.append(_phone(rng, view, dim, flash, skin))
