"""All that shines on a disc, as one picture of the half space above it, far away.

The picture is Lambert's equal-area projection from straight above: each of its pixels is the same solid angle.
"""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
from bench.other_light.optics import Array

from .optics import unit

SIDE = 720
HALF = SIDE / 2 - 8
"""Pixels from straight above to the horizon."""
BLURS_DEG = (0.45, 1.0, 3.0, 9.0, 25.0)
"""Of the levels; the first what a phone focused on the disc sees of the room (its lens is some 3 mm wide)."""
PX_PER_DEG = HALF / np.sqrt(2) * np.pi / 180
"""Near straight above."""


def directions() -> Array:
    """(SIDE, SIDE, 3): where each pixel lies; beyond the horizon as on it."""
    axis = (np.arange(SIDE) - (SIDE - 1) / 2) / HALF
    x, y = np.meshgrid(axis, axis)
    square = (x**2 + y**2).clip(0, 1)
    grow = np.sqrt(2 - square)
    return unit(np.stack([x * grow, y * grow, 1 - square], 2)).astype(np.float32)


def places(ways: Array) -> tuple[Array, Array]:
    """Columns and rows of directions (..., 3); those from below the horizon are taken on it."""
    share = HALF / np.sqrt(1 + ways[..., 2].clip(0))
    middle = (SIDE - 1) / 2
    return ways[..., 0] * share + middle, ways[..., 1] * share + middle


def from_flat(flat: Array) -> Array:
    """Unit vectors upwards from their first two components (..., 2), which are cut at the horizon."""
    length = np.linalg.norm(flat, axis=-1, keepdims=True)
    flat = flat * np.minimum(1, 0.9995 / length.clip(1e-9))
    return np.concatenate([flat, np.sqrt(1 - (flat**2).sum(-1, keepdims=True))], -1)


Paint = Callable[[Array], Array]


class Around:
    """Radiances, where a white ceiling in daylight is about 1."""

    def __init__(self, paint: Paint, turn: Array, bearer: Array | None = None) -> None:
        """Of a room, and of a disc in it.

        Args:
            paint: directions (..., 3) in the room, z up, to radiances; turn: (3, 3) from the disc's frame to it.
            bearer: (3,) where somebody stands in the light, in the disc's frame; not in the sharpest level, which
                mirrors them as `person.py` has them.
        """
        ways = directions()
        room = paint(ways @ turn.T.astype(np.float32)).astype(np.float32)
        sharp = room
        if bearer is not None:
            off = ((ways @ bearer.astype(np.float32)) - 0.965) * 250
            sharp = room * (1 - 0.9 / (1 + np.exp(-off.clip(-30, 30))))[..., None]
        blurs = [blur * PX_PER_DEG for blur in BLURS_DEG]
        self.levels = np.stack([cv2.GaussianBlur(sharp if level else room, (0, 0), blurs[level]) for level in range(5)])
        above = (np.hypot(*np.meshgrid(*[np.arange(SIDE) - (SIDE - 1) / 2] * 2)) < HALF)[..., None]
        share = 2 * np.pi / above.sum()
        self.falls: Array = ((sharp * ways[..., 2:] * above).sum((0, 1), np.float64) * share).astype(np.float32)
        """Irradiance (3,) on the disc."""
        weight = (sharp.mean(2, keepdims=True) ** 2 * above).astype(np.float64)
        self.main: Array = unit((ways * weight).sum((0, 1)))
        """Whence most of the light comes."""

    def look(self, ways: Array, level: int) -> Array:
        """Radiance (rows, columns, 3) from directions (rows, columns, 3)."""
        columns, rows = places(ways)
        return self.at(columns, rows, level)

    def at(self, columns: Array, rows: Array, level: int) -> Array:
        return np.asarray(
            cv2.remap(
                self.levels[level],
                columns.astype(np.float32),
                rows.astype(np.float32),
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_REPLICATE,
            )
        )

    def spread(self, ways: Array, spread_deg: Array) -> Array:
        """Radiance (n, 3) from about directions (n, 3), blurred by the level next to `spread_deg` (n,)."""
        columns, rows = (np.round(place).astype(int).clip(0, SIDE - 1) for place in places(ways))
        levels = np.abs(np.log(np.array(BLURS_DEG)[:, None] / spread_deg.clip(0.1))).argmin(0)
        return np.asarray(self.levels[levels, rows, columns])
