"""All that is line-like on a flat disc, for telling it from others: scratches, but mould text and bar codes as well.

Lines are found by comparing the mean along a short straight piece with both sides of it, in all directions, and
keeping the smaller of the two differences: a line stands out on both sides, the edge of a reflection only on one [1].
The result is divided by the noise of the neighbourhood, never by the picture's own extremes: a flawless disc gives
nothing. (`damage/` sees damage better, and passes over what is moulded and printed.)

References:
    [1] F. Tupin et al., Detection of linear features in SAR images, IEEE Trans. Geosci. Remote Sens. 36 (1998): the
        smaller of the contrasts with the two sides.
"""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np

from discscan.calibration import setting
from discscan.grids import SCALE, FloatImage, face_mm, ring, seen_cells
from discscan.records import FlatDisc

_DIRECTIONS = 16


def ridges_of(flat: FlatDisc) -> FloatImage:
    """How surely a line passes, 0..1, float32 (side / 2, side / 2), at `SCALE` of the flat disc."""
    grey = cv2.cvtColor(
        cv2.resize(flat.bgr, None, fx=SCALE, fy=SCALE, interpolation=cv2.INTER_AREA), cv2.COLOR_BGR2GRAY
    )
    signal = _line_to_noise(np.asarray(grey, np.float32), px_per_mm=flat.px_per_mm * SCALE)
    even, spread = setting("match", "line_even"), setting("match", "line_spread")
    line = np.asarray(1 / (1 + cv2.exp((even - signal) / spread)), np.float32)
    innermost_mm, outermost_mm = face_mm(flat.diameter_mm)
    face = ring(len(line), flat.px_per_mm * SCALE, inner_mm=innermost_mm, outer_mm=outermost_mm)
    return line * (seen_cells(flat) & face)


def _line_to_noise(grey: FloatImage, *, px_per_mm: float) -> FloatImage:
    smooth = cv2.GaussianBlur(grey, (0, 0), setting("match", "grey_blur_px"))
    reach = round(setting("match", "ground_mm") * px_per_mm) | 1
    relief = cv2.subtract(smooth, cv2.blur(smooth, (reach, reach)))
    grain = tile_median(cv2.absdiff(smooth, cv2.blur(smooth, (3, 3))))  # type: ignore[arg-type]
    # a speck would be smeared to a short line in every direction; cut to the level of a faint line it is too short
    most = setting("match", "clip_noise") * grain + setting("match", "clip_levels")
    relief = cv2.max(cv2.min(relief, most), -most)
    signal, rough = line_signal(
        relief,  # type: ignore[arg-type]
        reach_px=setting("match", "side_px"),
        lopsided=setting("match", "lopsided_share"),
    )
    return np.asarray(signal / (tile_median(rough) + setting("match", "noise_floor_levels")), np.float32)


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
        best = cv2.max(best, cv2.max(bright, dark))  # type: ignore[assignment]
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


def tile_median(image: FloatImage, *, tile: int = 20) -> FloatImage:
    """Median of each neighbourhood, smooth over the image: the level of what is everywhere, not of what stands out."""
    count = image.shape[0] // tile
    tiles = image[: count * tile, : count * tile].reshape(count, tile, count, tile).swapaxes(1, 2)
    medians = np.median(tiles[:, :, ::2, 1::2].reshape(count, count, -1), axis=-1).astype(np.float32)
    return np.asarray(
        cv2.resize(cv2.medianBlur(medians, 3), image.shape[::-1], interpolation=cv2.INTER_LINEAR), np.float32
    )
