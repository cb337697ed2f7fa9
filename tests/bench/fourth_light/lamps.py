"""What shines in a room: bulbs, spots, tubes, panels, windows; each a function of direction."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from bench.other_light.chance import Rng
from bench.other_light.optics import Array

from .around import Paint
from .optics import unit

WARM, NEUTRAL, COOL = np.array([1.25, 1.0, 0.62]), np.array([1.05, 1.0, 0.9]), np.array([0.92, 1.0, 1.12])


def hue(rng: Rng, strength: float) -> Array:
    return np.asarray(1 + strength * rng.uniform(-1, 1, 3))


def disc_lamp(rng: Rng, way: Array, radius_deg: float, light: Array) -> Paint:
    """A bulb, a spot or the sun, with a soft halo about it."""
    halo, far = 0.004 * rng.random(), np.cos(np.deg2rad(radius_deg))

    def paint(ways: Array) -> Array:
        cosine = ways @ way
        inside = 1 / (1 + np.exp(-((cosine - far) / (1 - far) * 6).clip(-30, 30)))
        return np.asarray((inside + halo * np.exp((cosine - 1) * 60))[..., None] * light)

    return paint


def panel(centre: Array, along: Array, half_long: float, half_wide: float, light: Array) -> Paint:
    """A flat lamp below a ceiling: `centre` (3,) and sizes in multiples of the ceiling's height."""
    heading = unit(np.asarray(along))

    def paint(ways: Array) -> Array:
        up = ways[..., 2].clip(1e-3)
        x, y = ways[..., 0] / up * centre[2] - centre[0], ways[..., 1] / up * centre[2] - centre[1]
        u, v = x * heading[0] + y * heading[1], y * heading[0] - x * heading[1]
        inside = ((np.abs(u) < half_long) & (np.abs(v) < half_wide) & (ways[..., 2] > 0.02)).astype(np.float32)
        return np.asarray(inside[..., None] * light)

    return paint


def upright(azimuth: float, ways: Array) -> tuple[Array, Array]:
    """Where directions meet an upright plane at distance 1 that way: aside and up; far off behind."""
    facing = ways[..., 0] * np.cos(azimuth) + ways[..., 1] * np.sin(azimuth)
    aside = ways[..., 1] * np.cos(azimuth) - ways[..., 0] * np.sin(azimuth)
    ahead = np.where(facing > 0.02, facing, 1e-3)
    behind = np.where(facing > 0.02, 0, 1e3)
    return aside / ahead + behind, ways[..., 2] / ahead + behind


def window_pane(rng: Rng, azimuth: float, light: Array) -> Callable[[Array, Array], Array]:
    """Lays a window with its frame and bars over a picture."""
    middle, low = rng.normal(0, 0.25), rng.uniform(0.1, 0.35)
    wide, high = rng.uniform(0.22, 0.7), rng.uniform(0.4, 0.9)
    bars, rail, frame = int(rng.integers(1, 4)), rng.uniform(0.4, 1.2), light * rng.uniform(0.01, 0.06)
    horizon, ground = low + high * rng.uniform(0, 0.5), rng.uniform(0.1, 0.5) * np.array([0.8, 1, 0.7])
    curtain = rng.random() < 0.3

    def paint(ways: Array, before: Array) -> Array:
        aside, up = upright(azimuth, ways)
        u, v = (aside - middle) / wide, (up - low) / high
        inside = (np.abs(u) < 1) & (v > 0) & (v < 1)
        cell = np.abs(((u + 1) / 2 * bars) % 1 - 0.5) * 2
        bar = (cell > 1 - 0.05 * bars) | (np.abs(v - rail) < 0.02) | (v < 0.03) | (v > 0.97)
        out = np.where((up > horizon)[..., None], light, light * ground)
        if curtain:
            out = out * (0.45 + 0.12 * np.sin(40 * u))[..., None]
        return np.where(inside[..., None], np.where(bar[..., None], frame, out), before)

    return paint
