"""Damage by image processing alone: from the flat disc to one probability map for each class.

A trained model fills the same `DamageMaps`; everything after them (tracing, kinds, measures) is shared.

Lines are found by comparing the mean along a short straight piece with both sides of it, in all directions, and keeping
the smaller of the two differences: a line stands out on both sides, the edge of a reflection only on one [1]. The result
is divided by the noise of the neighbourhood, never by the picture's own extremes: a flawless disc gives nothing.

References:
    [1] F. Tupin et al., Detection of linear features in SAR images, IEEE Trans. Geosci. Remote Sens. 36 (1998): the
        smaller of the contrasts with the two sides.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.records import FlatDisc, Sight

FloatImage = NDArray[np.float32]

_DIRECTIONS = 16


@dataclass(frozen=True)
class DamageMaps:
    """Probabilities 0..1, each float32 (side, side), the disc's centre at side / 2.

    Attributes:
        px_per_mm: of the maps, which may be coarser than the flat disc.
        line: of a scratch, arc or crack.
        delamination, smudge: of areas.
        dust: of specks.
    """

    px_per_mm: float
    line: FloatImage
    delamination: FloatImage
    smudge: FloatImage
    dust: FloatImage


def line_signal(grey: FloatImage, *, reach_px: float, lopsided: float) -> tuple[FloatImage, FloatImage]:
    """How much a line stands out from both sides, and the noise of that figure.

    Args:
        grey: float32 (h, w).
        reach_px: how far aside the sides lie.
        lopsided: share of the difference between the sides that is taken off; edges with a halo go with it.
    Returns:
        signal: float32 (h, w), grey levels, the best direction's; 0 where nothing stands out.
        rough: float32 (h, w), grey levels, absolute second difference across, mean over directions.
    """
    best = np.zeros_like(grey)
    rough = np.zeros_like(grey)
    pad = int(np.ceil(reach_px)) + 1
    height, width = grey.shape
    for turn, kernel in enumerate(_line_kernels()):
        along = cv2.copyMakeBorder(cv2.filter2D(grey, cv2.CV_32F, kernel), pad, pad, pad, pad, cv2.BORDER_REPLICATE)
        angle = np.pi * turn / _DIRECTIONS
        dx, dy = round(-reach_px * np.sin(angle)), round(reach_px * np.cos(angle))
        middle = along[pad : pad + height, pad : pad + width]
        left = cv2.subtract(middle, along[pad + dy : pad + dy + height, pad + dx : pad + dx + width])
        right = cv2.subtract(middle, along[pad - dy : pad - dy + height, pad - dx : pad - dx + width])
        low, high = cv2.min(left, right), cv2.max(left, right)
        bright = cv2.addWeighted(low, 1 + lopsided, high, -lopsided, 0)
        dark = cv2.addWeighted(low, lopsided, high, -1 - lopsided, 0)
        best = cv2.max(best, cv2.max(bright, dark))
        if turn % 4 == 0:
            rough += cv2.absdiff(left, -right)
    return best, rough * (1 / 4)


@lru_cache(maxsize=1)
def _line_kernels() -> tuple[FloatImage, ...]:
    """Means along a straight piece of eleven cells, one for each direction, Gaussian weights."""
    half, spread = 5, 2.8
    kernels = []
    for turn in range(_DIRECTIONS):
        angle = np.pi * turn / _DIRECTIONS
        kernel = np.zeros((2 * half + 1, 2 * half + 1), np.float32)
        for along in np.arange(-half, half + 0.01, 0.5):
            x, y = half + along * np.cos(angle), half + along * np.sin(angle)
            x0, y0 = min(int(x), 2 * half - 1), min(int(y), 2 * half - 1)
            for column, row in ((x0, y0), (x0 + 1, y0), (x0, y0 + 1), (x0 + 1, y0 + 1)):
                share = (1 - abs(x - column)) * (1 - abs(y - row))
                kernel[row, column] += share * np.exp(-(along**2) / (2 * spread**2))
        kernels.append(kernel / kernel.sum())
    return tuple(kernels)


def line_probability(flat: FlatDisc, *, radius_min_mm: float, radius_max_mm: float) -> FloatImage:
    """Probability of a line in each cell, at half the flat disc's scale, between two radii."""
    grey = cv2.resize(cv2.cvtColor(flat.bgr, cv2.COLOR_BGR2GRAY), None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    side = grey.shape[0]
    smooth = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), setting("damage", "grey_blur_px"))
    reach = round(setting("damage", "ground_mm") * flat.px_per_mm / 2) | 1
    relief = cv2.subtract(smooth, cv2.blur(smooth, (reach, reach)))
    grain = tile_median(cv2.absdiff(smooth, cv2.blur(smooth, (3, 3))))
    most = setting("damage", "clip_noise") * grain + setting("damage", "clip_levels")
    relief = cv2.max(cv2.min(relief, most), -most)
    signal, rough = line_signal(
        relief, reach_px=setting("damage", "side_px"), lopsided=setting("damage", "lopsided_share")
    )
    noise = tile_median(rough) + setting("damage", "noise_floor_levels")
    sure = 1 / (1 + cv2.exp((setting("damage", "even_odds") - signal / noise) / setting("damage", "odds_spread")))
    unseen = cv2.resize(flat.sight, (side, side), interpolation=cv2.INTER_NEAREST) != Sight.SEEN
    ring = np.full((side, side), 255, np.uint8)
    for radius, value in ((radius_max_mm, 0), (radius_min_mm, 255)):
        cv2.circle(ring, (side * 8, side * 8), round(radius * flat.px_per_mm * 8), value, -1, shift=4)
    hidden = cv2.dilate(unseen.astype(np.uint8), np.ones((5, 5), np.uint8))
    sure[(hidden > 0) | (ring > 0)] = 0
    return np.asarray(sure, np.float32)


def tile_median(image: FloatImage, *, tile: int = 20) -> FloatImage:
    """Median of each neighbourhood, smooth over the image: the level of what is everywhere, not of what stands out."""
    count = image.shape[0] // tile
    tiles = image[: count * tile, : count * tile].reshape(count, tile, count, tile).swapaxes(1, 2)
    middle = np.median(tiles[:, :, ::2, 1::2].reshape(count, count, -1), axis=-1).astype(np.float32)
    return np.asarray(cv2.resize(cv2.medianBlur(middle, 3), image.shape[::-1], interpolation=cv2.INTER_LINEAR), np.float32)
