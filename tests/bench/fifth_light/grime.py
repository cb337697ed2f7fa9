"""What lies on the face: finger marks, wiped grease, dried water, dust, hairs and lint, the rest of a sticker."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.areas import FLAT_PX_MM, Flat, Hair
from bench.other_light.chance import Rng, blob_mm, cloud, log_uniform, ramp, spot_mm
from bench.other_light.optics import Array

from .wear import curve

RIDGE_MM = (0.4, 0.6)
"""Ridges of a finger lie about half a millimetre apart (from memory)."""


def noise(rng: Rng, flat: Flat, cell_mm: float, octaves: int = 3) -> Array:
    """Smooth noise over the flat grid; made at half its resolution."""
    half = flat.side // 2
    coarse = cloud(rng, half, half, max(2.0, cell_mm * FLAT_PX_MM / 2), octaves)
    return np.asarray(cv2.resize(coarse, (flat.side, flat.side), interpolation=cv2.INTER_LINEAR))


def finger_mark(rng: Rng, flat: Flat) -> None:
    """A pad pressed on: ridges that arch over a core, thinner towards its border, often dragged to one side."""
    x, y = flat.turned(spot_mm(rng, flat.rim_mm + 3), rng.uniform(0, 2 * np.pi))
    wide, tall = rng.uniform(6, 9.5), rng.uniform(8, 13)
    pad = (x / wide) ** 2 + (y / tall) ** 2
    near = (np.abs(x) < 2 * wide) & (np.abs(y) < 2 * tall)
    rows, columns = (slice(int(part.min()), int(part.max()) + 1) for part in np.nonzero(near))
    box = (rows, columns)
    u, v, pad = x[box], y[box], pad[box]
    tall_px, wide_px = u.shape
    arch = rng.uniform(3, 8) * np.exp(-((u / rng.uniform(3, 6)) ** 2))
    way = v + arch if rng.random() < 0.5 else np.hypot(u, v * rng.uniform(0.5, 0.9) + rng.uniform(0, 4))
    way = way + 0.5 * cloud(rng, tall_px, wide_px, 3.5 * FLAT_PX_MM, 2)
    ridge = np.sin(2 * np.pi * way / rng.uniform(*RIDGE_MM)) + 0.4 * cloud(rng, tall_px, wide_px, 3, 1)
    pressed = ramp(1.2, 0.55, pad) * ramp(-1.2, 0.3, cloud(rng, tall_px, wide_px, 4 * FLAT_PX_MM, 2) + 0.6)
    strength, film = log_uniform(rng, 0.1, 0.55), rng.uniform(0, 0.5)
    grease = strength * pressed * (film + (1 - film) * ramp(-0.4, 0.6, ridge))
    if rng.random() < 0.3:
        grease = np.asarray(cv2.blur(grease.astype(np.float32), (1, int(rng.integers(8, 60)))))
    whole, mask = np.zeros((flat.side, flat.side), np.float32), np.zeros((flat.side, flat.side), bool)
    whole[box], mask[box] = grease, pressed > 0.2
    flat.lay("grease", whole)
    flat.tell("smudge", "print", mask & flat.on_disc(7.5, flat.rim_mm), strength)


def wiped(rng: Rng, flat: Flat) -> None:
    """A cloth's pass: streaks side by side, along a line or about a wrist."""
    x, y = flat.turned(spot_mm(rng, flat.rim_mm), rng.uniform(0, np.pi))
    reach = rng.uniform(40, 200)
    side = np.hypot(x, y - reach) - reach if rng.random() < 0.6 else y
    wide, long = rng.uniform(5, 22), rng.uniform(15, 55)
    bristles = np.interp(side / wide + 0.5, np.linspace(0, 1, 700), cloud(rng, 1, 700, log_uniform(rng, 4, 40), 4)[0])
    there = ramp(1.0, 0.4, np.abs(2 * side / wide)) * ramp(1.0, 0.5, np.abs(2 * x / long) + 0.2 * noise(rng, flat, 9))
    strength = log_uniform(rng, 0.05, 0.32)
    flat.lay("grease", strength * there * (0.45 + 0.4 * bristles).clip(0.02, 1.1))
    flat.tell("smudge", "wiped", (there > 0.3) & flat.on_disc(7.5, flat.rim_mm), strength)


def dried_water(rng: Rng, flat: Flat) -> None:
    """Drops and splashes whose chalk gathers at the border, in one or two rings."""
    at, strength = spot_mm(rng, flat.rim_mm), log_uniform(rng, 0.1, 0.5)
    for _ in range(int(rng.integers(1, 7))):
        radius = log_uniform(rng, 0.4, 4.5)
        mask = flat.filled(blob_mm(rng, at + rng.normal(0, 6, 2), radius, 0.12)) & flat.on_disc(7.5, flat.rim_mm)
        deep = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 3) / FLAT_PX_MM
        line = 0.05 + 0.05 * radius
        rings = np.exp(-((deep / line - 0.6) ** 2)) + 0.5 * np.exp(-((deep / line - rng.uniform(2.5, 5)) ** 2) * 2)
        flat.lay("grease", strength * (rings + rng.uniform(0, 0.25)) * mask)
        flat.tell("smudge", "water", mask, strength)


def dust(rng: Rng, rim_mm: float, count: int) -> list[tuple[Array, float]]:
    """Grains: outlines, with how opaque they are."""
    return [
        (blob_mm(rng, spot_mm(rng, rim_mm), log_uniform(rng, 0.025, 0.2), 0.4, 12), float(rng.uniform(0.3, 1)))
        for _ in range(count)
    ]


def lint(rng: Rng, rim_mm: float, count: int) -> list[Hair]:
    """Curled fibres and hairs; now and then thin ones that waver and run outwards as a crack might."""
    found = []
    for _ in range(count):
        at, outward = spot_mm(rng, rim_mm), rng.random() < 0.25
        heading = np.arctan2(at[1], at[0]) + rng.normal(0, 0.15) if outward else rng.uniform(0, 2 * np.pi)
        long = log_uniform(rng, 5, 25) if outward else log_uniform(rng, 1.2, 12)
        bow, shake = (rng.normal(0, 0.3), 0.12) if outward else (rng.normal(0, 2.0), rng.uniform(0.1, 0.6))
        path = curve(rng, at, float(heading), long, bow, 0.0, shake)
        path = path[np.hypot(*path.T) < rim_mm - 0.1]
        if len(path) > 5:
            wide = log_uniform(rng, 0.012, 0.035) if outward else log_uniform(rng, 0.015, 0.07)
            found.append(Hair(path, wide, float(rng.uniform(0.35, 0.95))))
    return found


def sticker(rng: Rng, rim_mm: float) -> Array:
    """The outline of what is left of a price label, (n, 2)."""
    wide, tall, turn = rng.uniform(6, 22), rng.uniform(4, 14), rng.uniform(0, 2 * np.pi)
    corners = np.array([[-wide, -tall], [wide, -tall], [wide, tall], [-wide, tall]]) / 2
    edge = np.concatenate([np.linspace(corners[k], corners[(k + 1) % 4], 20, endpoint=False) for k in range(4)])
    torn = slice(0, int(rng.integers(5, 40)))
    edge[torn] += rng.normal(0, 0.5, edge[torn].shape) + 0.3 * (edge[torn].mean(0) * -0.6)
    way = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return np.asarray(edge @ way.T + spot_mm(rng, rim_mm - 6))
