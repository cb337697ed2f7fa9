"""Random numbers and smooth shapes that every part draws with."""

from __future__ import annotations

import cv2
import numpy as np

from .optics import Array

Rng = np.random.Generator


def log_uniform(rng: Rng, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def ramp(low: float, high: float, value: Array) -> Array:
    """0 below, 1 above, smooth between; falling where low > high."""
    share = np.clip((value - low) / (high - low + 1e-9), 0, 1)
    return np.asarray(share * share * (3 - 2 * share))


def cloud(rng: Rng, height: int, width: int, cell: float, octaves: int = 3) -> Array:
    """Smooth noise (height, width) of mean 0 and deviation about 1, its largest cells `cell` wide."""
    total, power = np.zeros((height, width), np.float32), 0.0
    for octave in range(octaves):
        step, gain = max(1.0, cell / 2**octave), 0.5**octave
        nodes = rng.standard_normal((max(2, int(height / step) + 3), max(2, int(width / step) + 3))).astype(np.float32)
        total += gain * cv2.resize(nodes, (width, height), interpolation=cv2.INTER_CUBIC)
        power += gain**2
    return total / np.float32(np.sqrt(power))


def wander(rng: Rng, count: int, nodes: int) -> Array:
    """`count` values that run smoothly through `nodes` normal ones."""
    return np.interp(np.linspace(0, 1, count), np.linspace(0, 1, nodes), rng.standard_normal(nodes))


def colour(rng: Rng, low: float, high: float, spread: float) -> Array:
    """A colour (3,) of a brightness between low and high, each part off by up to `spread` of it."""
    return np.asarray((rng.uniform(low, high) * (1 + spread * rng.uniform(-1, 1, 3))).clip(0.005), np.float32)


def blob_mm(rng: Rng, centre: Array, radius_mm: float, uneven: float, points: int = 48) -> Array:
    """The outline (points, 2) of something roundish."""
    turn, size = np.linspace(0, 2 * np.pi, points, endpoint=False), np.ones(points)
    for wave in range(1, 7):
        size += uneven / wave * rng.normal(0, 0.8) * np.cos(wave * turn + rng.uniform(0, 2 * np.pi))
    stretch = log_uniform(rng, 0.7, 1.4)
    way = np.stack([np.cos(turn) * stretch, np.sin(turn) / stretch], 1) * size.clip(0.25, 2.5)[:, None]
    return np.asarray(radius_mm * way + centre)


def spot_mm(rng: Rng, rim_mm: float) -> Array:
    """A place on the disc, outside of the hub, even by area."""
    radius, turn = np.sqrt(rng.uniform(21**2, (rim_mm - 2) ** 2)), rng.uniform(0, 2 * np.pi)
    return np.asarray([radius * np.cos(turn), radius * np.sin(turn)])
