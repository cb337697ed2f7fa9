"""Grease, parted layers and dust: each an outline for the truth and a layer of the disc's flat grid for the picture.

The flat grid holds a square from -half to half mm with FLAT_PX_MM cells per mm; so do the label pictures of the truth.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

from .chance import Rng, blob_mm, cloud, log_uniform, ramp, spot_mm
from .lines import bent, sideways_of
from .optics import Array

HOLE_MM = 7.5
"""Radius (ECMA-267, 10.1; the same on CD and BD)."""
FLAT_PX_MM = 10
MARGIN_MM = 2.0


@dataclass(frozen=True)
class Area:
    """A patch: smudge, delamination or dust."""

    kind: str
    style: str
    outline_mm: Array
    strength: float
    mask: Array
    """bool (side, side) of the flat grid."""


@dataclass
class Flat:
    """The areas, and layers over the flat grid: grease, milky, stain, lost, fringes from 0 to 1, and gap_um."""

    rim_mm: float
    layers: dict[str, Array] = field(default_factory=dict)
    areas: list[Area] = field(default_factory=list)

    @property
    def half_mm(self) -> float:
        return self.rim_mm + MARGIN_MM

    @property
    def side(self) -> int:
        return round(2 * self.half_mm * FLAT_PX_MM)

    def cells(self, points_mm: Array) -> Array:
        """Where points lie in the grid; the middle of its first cell is (0, 0)."""
        return np.asarray((points_mm + self.half_mm) * FLAT_PX_MM - 0.5)

    def mm(self) -> tuple[Array, Array]:
        """x (1, side) and y (side, 1) of the cells."""
        axis = ((np.arange(self.side) + 0.5) / FLAT_PX_MM - self.half_mm).astype(np.float32)
        return axis[None, :], axis[:, None]

    def turned(self, centre: Array, turn: float) -> tuple[Array, Array]:
        """Coordinates (side, side) about a centre, turned."""
        x, y = self.mm()
        x, y = x - centre[0], y - centre[1]
        return np.asarray(x * np.cos(turn) + y * np.sin(turn)), np.asarray(y * np.cos(turn) - x * np.sin(turn))

    def on_disc(self, hole_mm: float, rim_mm: float) -> Array:
        x, y = self.mm()
        square = x**2 + y**2
        return np.asarray((square < rim_mm**2) & (square > hole_mm**2))

    def filled(self, outline_mm: Array) -> Array:
        mask = np.zeros((self.side, self.side), np.uint8)
        cv2.fillPoly(mask, [np.round(self.cells(outline_mm) * 16).astype(np.int32)], 1, cv2.LINE_8, 4)
        return mask > 0

    def lay(self, layer: str, value: Array) -> None:
        here = self.layers.setdefault(layer, np.zeros((self.side, self.side), np.float32))
        np.maximum(here, value.clip(0, None if layer == "gap_um" else 1), out=here)

    def tell(self, kind: str, style: str, mask: Array, strength: float) -> None:
        """Keeps an area for the truth; its outline is that of its largest piece."""
        pieces, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        if pieces:
            border = cv2.approxPolyDP(max(pieces, key=cv2.contourArea), 1.0, True)[:, 0]
            if len(border) >= 3:
                self.areas.append(Area(kind, style, (border + 0.5) / FLAT_PX_MM - self.half_mm, strength, mask))


def fingerprint(rng: Rng, flat: Flat) -> None:
    x, y = flat.turned(spot_mm(rng, flat.rim_mm + 4), rng.uniform(0, 2 * np.pi))
    far = (x / rng.uniform(5.5, 9)) ** 2 + (y / rng.uniform(7.5, 13)) ** 2
    side, core = flat.side, rng.uniform(-1, 3)
    bow = np.where(y < core, 0.75, 0.35) * (y - core)
    way = np.hypot(x * rng.uniform(0.8, 1.2), bow) if rng.random() < 0.7 else y + 0.02 * x * x
    way = way + 0.6 * cloud(rng, side, side, 3 * FLAT_PX_MM, 2)
    pitch_mm = rng.uniform(0.38, 0.58)  # ridges of a finger lie about half a millimetre apart (from memory)
    wave = np.sin(2 * np.pi * way / pitch_mm) + rng.uniform(-0.3, 0.4) + 0.35 * cloud(rng, side, side, 3, 1)
    press = ramp(-0.9, 0.5, cloud(rng, side, side, 4 * FLAT_PX_MM, 2) + 0.9)
    press = press * ramp(1.25, 0.75, far + 0.12 * cloud(rng, side, side, 2 * FLAT_PX_MM, 1))
    strength = log_uniform(rng, 0.12, 0.6)
    flat.lay("grease", strength * ramp(-0.5, 0.5, wave) * press)
    flat.tell("smudge", "print", (press > 0.15) & flat.on_disc(7.5, flat.rim_mm), strength)


def wiped_grease(rng: Rng, flat: Flat) -> None:
    x, y = flat.turned(spot_mm(rng, flat.rim_mm), rng.uniform(0, np.pi))
    y = y + rng.normal(0, 0.012) * x * x
    long_mm, wide_mm, strength = rng.uniform(12, 45), rng.uniform(4, 16), log_uniform(rng, 0.05, 0.35)
    streaks = np.interp(y / wide_mm + 0.5, np.linspace(0, 1, 1024), cloud(rng, 1, 1024, log_uniform(rng, 3, 12), 4)[0])
    there = ramp(1.1, 0.6, (2 * x / long_mm) ** 2 + 0.25 * cloud(rng, flat.side, flat.side, 8 * FLAT_PX_MM, 2))
    there = there * ramp(1.1, 0.5, (2 * y / wide_mm) ** 2)
    flat.lay("grease", strength * (0.5 + 0.35 * streaks).clip(0, 1.2) * there)
    flat.tell("smudge", "wiped", (there > 0.3) & flat.on_disc(7.5, flat.rim_mm), strength)


def dried_drop(rng: Rng, flat: Flat) -> None:
    """Strongest along its border."""
    radius, strength = log_uniform(rng, 0.4, 4), log_uniform(rng, 0.1, 0.5)
    mask = flat.filled(blob_mm(rng, spot_mm(rng, flat.rim_mm), radius, 0.1)) & flat.on_disc(7.5, flat.rim_mm)
    deep = _depth_mm(mask)
    flat.lay("grease", strength * (np.exp(-((deep / (0.07 * radius + 0.06)) ** 2)) + rng.uniform(0, 0.3)) * mask)
    flat.tell("smudge", "water", mask, strength)


def _depth_mm(mask: Array) -> Array:
    """How far each cell of a mask lies from its border."""
    return np.asarray(cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5) / FLAT_PX_MM)


def parted(rng: Rng, flat: Flat, style: str) -> None:
    """Layers that parted or a reflector that is lost: milky, fringes, lost or stain; in from the rim, or as a patch."""
    side, edge_mm = flat.side, flat.rim_mm - 0.9
    x, y = flat.mm()
    radius = np.hypot(x, y)
    if style == "stain" or rng.random() < 0.55:
        half = np.deg2rad(log_uniform(rng, 5, 25 if style == "lost" else 60))
        off = np.abs((np.arctan2(y, x) - rng.uniform(0, 2 * np.pi) + np.pi) % (2 * np.pi) - np.pi) / half
        uneven = 1 + 0.35 * cloud(rng, side, side, log_uniform(rng, 2, 8) * FLAT_PX_MM, 4)
        mask = log_uniform(rng, 2, 14) * np.sqrt(np.clip(1 - off**2, 0, 1)) * uneven > edge_mm - radius
        mask &= off < 1
    else:
        mask = flat.filled(blob_mm(rng, spot_mm(rng, flat.rim_mm - 4), log_uniform(rng, 1.5, 9), 0.35))
        mask &= _depth_mm(mask) > 0.25 * (1 + cloud(rng, side, side, 2 * FLAT_PX_MM, 3))
    count, pieces, sizes, _ = cv2.connectedComponentsWithStats((mask & flat.on_disc(21, edge_mm)).astype(np.uint8))
    if count < 2:
        return
    mask = pieces == 1 + int(np.argmax(sizes[1:, cv2.CC_STAT_AREA]))
    deep, strength = _depth_mm(mask), rng.uniform(0.45, 1)
    if style == "fringes":
        gap = 0.25 + rng.uniform(0.15, 0.8) * np.minimum(deep, 8) * (1 + 0.15 * cloud(rng, side, side, 30, 2))
        flat.lay("gap_um", gap * mask)
        flat.lay("fringes", strength * ramp(0, 0.15, deep) * mask)
    elif style == "lost":
        flat.lay("lost", cv2.GaussianBlur((ramp(0, 0.12, deep) * mask).astype(np.float32), (0, 0), 0.8))
    else:
        grain = (0.8 + 0.2 * cloud(rng, side, side, rng.uniform(0.3, 3) * FLAT_PX_MM, 4)).clip(0.2, 1)
        flat.lay(style, strength * ramp(0, rng.uniform(0.1, 1.5), deep) * grain * mask)
    flat.tell("delamination", style, mask, strength)


@dataclass(frozen=True)
class Hair:
    path_mm: Array
    width_mm: float
    opacity: float

    @property
    def outline_mm(self) -> Array:
        """Its border (n, 2)."""
        aside = sideways_of(self.path_mm) * self.width_mm / 2
        return np.concatenate([self.path_mm + aside, (self.path_mm - aside)[::-1]])


def specks(rng: Rng, rim_mm: float, count: int) -> list[tuple[Array, float]]:
    """Outlines of grains of dust, with their opacity."""
    sizes = [log_uniform(rng, 0.02, 0.28) for _ in range(count)]
    return [(blob_mm(rng, spot_mm(rng, rim_mm), size, 0.35, 14), rng.uniform(0.35, 1)) for size in sizes]


def hairs(rng: Rng, rim_mm: float, count: int) -> list[Hair]:
    found = []
    for _ in range(count):
        bend, wobble = rng.normal(0, 0.22), rng.uniform(0.05, 0.35)
        middle, heading = spot_mm(rng, rim_mm), rng.uniform(0, 2 * np.pi)
        path = bent(rng, middle, heading, log_uniform(rng, 1.5, 14), bend, wobble)
        path = path[np.hypot(*path.T) < rim_mm]
        if len(path) > 4:
            found.append(Hair(path, log_uniform(rng, 0.012, 0.07), rng.uniform(0.4, 1)))
    return found
