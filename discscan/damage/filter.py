"""Lines and parted layers by image processing: from the flat disc to a probability map for each.

Lines are found by comparing the mean along a short straight piece with both sides of it, in all directions, and
keeping the smaller of the two differences: a line stands out on both sides, the edge of a reflection only on one [1].
The result is divided by the noise of the neighbourhood, never by the picture's own extremes: a flawless disc gives
nothing.

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
from discscan.damage.ground import SCALE, FloatImage, half_grey, hidden, medians, tile_median
from discscan.formats import data_area_mm
from discscan.records import FlatDisc

_DIRECTIONS = 16
_TILE = 10  # cells of the half scale: 2 mm


@dataclass(frozen=True)
class DamageMaps:
    """Probabilities 0..1, each float32 (side, side), the disc's centre at side / 2.

    Attributes:
        px_per_mm: of the maps, which may be coarser than the flat disc.
        line: of a scratch, an arc or a crack; also of a hair, which only its shape tells from them.
        frost: of a separated or frosted layer.
    """

    px_per_mm: float
    line: FloatImage
    frost: FloatImage


def filter_maps(flat: FlatDisc) -> DamageMaps:
    """The maps of the image processing, at half the flat disc's scale."""
    grey = half_grey(flat)
    signal = _line_to_noise(grey, px_per_mm=flat.px_per_mm * SCALE)
    rim_mm = flat.diameter_mm / 2
    blind = hidden(
        flat,
        radius_min_mm=setting("damage", "innermost_mm"),
        radius_max_mm=rim_mm - setting("damage", "rim_margin_mm"),
    )
    line = _odds(signal, "line")
    line[blind] = 0
    inner_mm, outer_mm = data_area_mm("unknown", flat.diameter_mm)
    off_data = hidden(flat, radius_min_mm=inner_mm, radius_max_mm=outer_mm)
    return DamageMaps(flat.px_per_mm * SCALE, line, _frost(grey, off_data))


def _odds(signal: FloatImage, name: str) -> FloatImage:
    """Logistic of a signal over its noise."""
    even, spread = setting("damage", f"{name}_even"), setting("damage", f"{name}_spread")
    return np.asarray(1 / (1 + cv2.exp((even - signal) / spread)), np.float32)


def _line_to_noise(grey: FloatImage, *, px_per_mm: float) -> FloatImage:
    smooth = cv2.GaussianBlur(grey, (0, 0), setting("damage", "grey_blur_px"))
    reach = round(setting("damage", "ground_mm") * px_per_mm) | 1
    relief = cv2.subtract(smooth, cv2.blur(smooth, (reach, reach)))
    grain = tile_median(cv2.absdiff(smooth, cv2.blur(smooth, (3, 3))))  # type: ignore[arg-type]
    # a speck would be smeared to a short line in every direction; cut to the level of a faint line it is too short
    most = setting("damage", "clip_noise") * grain + setting("damage", "clip_levels")
    relief = cv2.max(cv2.min(relief, most), -most)
    signal, rough = line_signal(
        relief,  # type: ignore[arg-type]
        reach_px=setting("damage", "side_px"),
        lopsided=setting("damage", "lopsided_share"),
    )
    return np.asarray(signal / (tile_median(rough) + setting("damage", "noise_floor_levels")), np.float32)


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


def _frost(grey: FloatImage, blind: NDArray[np.bool_]) -> FloatImage:
    """Grain over several mm, against the disc's own ground.

    Medians over 2 mm, so that a scratch or the edge of a reflection, which fill less than half of a tile, do not count.
    """
    grain = cv2.absdiff(cv2.GaussianBlur(grey, (0, 0), 0.5), cv2.GaussianBlur(grey, (0, 0), 2.0))
    open_tiles = medians(blind.astype(np.float32), tile=_TILE) < 0.5
    tiles = medians(grain, tile=_TILE)  # type: ignore[arg-type]
    ground = float(np.median(tiles[open_tiles])) if open_tiles.any() else 0.0
    share = _odds(tiles / (ground + setting("damage", "frost_floor")), "frost")
    share[~open_tiles] = 0
    wide = cv2.morphologyEx(share, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))  # an edge is narrower than 6 mm
    full = cv2.resize(wide, (tiles.shape[1] * _TILE, tiles.shape[0] * _TILE), interpolation=cv2.INTER_LINEAR)
    rest = grey.shape[0] - full.shape[0]
    return np.asarray(cv2.copyMakeBorder(full, 0, rest, 0, rest, cv2.BORDER_CONSTANT), np.float32)
