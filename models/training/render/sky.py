"""The sky over a stall outdoors, which a disc mirrors: blue or grey, with clouds, with the sun or without."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from models.training.render.geometry import FloatArray
from models.training.render.ranges import Ranges

OCTAVES, CELLS = 5, 8
"""Of the clouds' outlines: each octave has twice as many cells across and half the strength."""
REACH = 2.5
"""How far the layer of clouds is told, in its heights above the table; beyond, it is mirrored."""
FLATTEST = 0.12
"""The sine of the elevation below which clouds get no closer together."""


@dataclass(frozen=True)
class Sky:
    """Radiances (3,), as a room's. `cover`: share under cloud; `size`: of clouds, in shares of their usual; `soft`: of
    their borders; `seed`: of their outlines."""

    zenith: FloatArray
    horizon: FloatArray
    cloud: FloatArray
    cover: float
    size: float
    soft: float
    seed: int
    sun: FloatArray | None
    """(3,): the way to it, if it shines."""

    @property
    def mean(self) -> FloatArray:
        clear = 0.6 * self.zenith + 0.4 * self.horizon
        return np.asarray((1 - self.cover) * clear + self.cover * self.cloud)

    @property
    def outlines(self) -> NDArray[np.float32]:
        """(n, n): smooth noise, ranked from 0 to 1, so that `cover` of it lies below the cover."""
        rng = np.random.default_rng(self.seed)
        side = CELLS << OCTAVES
        total = np.zeros((side, side), np.float32)
        for octave in range(OCTAVES):
            cells = rng.standard_normal([CELLS << octave] * 2).astype(np.float32)
            total += 0.5**octave * cv2.resize(cells, (side, side), interpolation=cv2.INTER_CUBIC)
        ranks = total.ravel().argsort().argsort() / total.size
        return np.asarray(ranks.reshape(side, side), np.float32)


def sample_sky(rng: np.random.Generator, ranges: Ranges, ambient: float) -> Sky:
    blue = rng.uniform(0.2, 1.0)
    bright = ambient * ranges.draw(rng, "room.sky_radiance")
    turn, height = rng.uniform(0, 2 * np.pi), np.radians(rng.uniform(15, 75))
    cover = ranges.draw(rng, "room.cloud_cover")
    if ranges.whether(rng, "room.under_a_tree"):
        return _through_leaves(rng, bright)
    return Sky(
        zenith=bright * np.array([1 - 0.65 * blue, 1 - 0.4 * blue, 1.0]),
        horizon=bright * rng.uniform(0.9, 1.4) * np.array([1 - 0.2 * blue, 1 - 0.1 * blue, 1.0]),
        cloud=bright * rng.uniform(0.7, 2.2) * rng.uniform(0.94, 1.05, 3),
        cover=cover,
        size=float(np.exp(rng.uniform(-1.2, 0.6))),
        soft=float(np.exp(rng.uniform(np.log(0.01), np.log(0.3)))),
        seed=int(rng.integers(2**31)),
        sun=np.array([np.cos(turn) * np.cos(height), np.sin(turn) * np.cos(height), np.sin(height)])
        if rng.random() < 1 - cover
        else None,
    )


def _through_leaves(rng: np.random.Generator, bright: float) -> Sky:
    """What a tree overhead leaves of it: leaves are its clouds, green, small and dark."""
    light = bright * np.array([0.9, 0.95, 1.0])
    return Sky(
        zenith=light,
        horizon=light,
        cloud=bright * rng.uniform(0.08, 0.5) * np.array([rng.uniform(0.45, 0.9), 1.0, rng.uniform(0.2, 0.5)]),
        cover=rng.uniform(0.45, 0.97),
        size=float(np.exp(rng.uniform(-2.5, -0.3))),
        soft=float(np.exp(rng.uniform(np.log(0.01), np.log(0.3)))),
        seed=int(rng.integers(2**31)),
        sun=None,
    )
