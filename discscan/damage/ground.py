"""The picture at half the flat disc's scale, and what its ground is like: levels of what is everywhere."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.records import FlatDisc, Sight

FloatImage = NDArray[np.float32]

SCALE = 0.5
"""Of the maps over the flat disc: 5 px per mm, about what a whole disc in a photograph of a few megapixels resolves."""


def half_grey(flat: FlatDisc) -> FloatImage:
    """Grey levels, float32, each the mean of four cells."""
    grey = cv2.resize(flat.bgr, None, fx=SCALE, fy=SCALE, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.cvtColor(grey, cv2.COLOR_BGR2GRAY), np.float32)


def hidden(flat: FlatDisc, *, radius_min_mm: float, radius_max_mm: float) -> NDArray[np.bool_]:
    """Cells of the half scale that were not seen, or lie beside such cells, or outside a ring."""
    side = round(flat.sight.shape[0] * SCALE)
    unseen = cv2.resize(flat.sight, (side, side), interpolation=cv2.INTER_NEAREST) != Sight.SEEN
    out = cv2.dilate(unseen.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    radius = radii_mm(side, flat.px_per_mm * SCALE)
    out |= (radius < radius_min_mm) | (radius > radius_max_mm)
    return out


@lru_cache(maxsize=4)
def radii_mm(side: int, px_per_mm: float) -> FloatImage:
    """Distance from the disc's centre. Shared: do not write to it."""
    along = (np.arange(side, dtype=np.float32) - side / 2) / px_per_mm
    radius: FloatImage = np.hypot(along[None, :], along[:, None])
    radius.flags.writeable = False
    return radius


def tile_median(image: FloatImage, *, tile: int = 20) -> FloatImage:
    """Median of each neighbourhood, smooth over the image: the level of what is everywhere, not of what stands out."""
    middle = cv2.medianBlur(medians(image, tile=tile), 3)
    return np.asarray(cv2.resize(middle, image.shape[::-1], interpolation=cv2.INTER_LINEAR), np.float32)


def medians(image: FloatImage, *, tile: int) -> FloatImage:
    """Median of each tile, (side // tile, side // tile), from half of its cells."""
    count = image.shape[0] // tile
    tiles = image[: count * tile, : count * tile].reshape(count, tile, count, tile).swapaxes(1, 2)
    return np.asarray(np.median(tiles[:, :, ::2, 1::2].reshape(count, count, -1), axis=-1), np.float32)


def textures(grey: FloatImage) -> tuple[FloatImage, FloatImage]:
    """How uneven the ground is over 2 to 4 mm, in grey levels: at about 0.5 mm (fine), and at about 1.5 mm (coarse).

    An edge of a reflection crosses less than half of a neighbourhood and does not count; grease and frost do.
    """
    soft = cv2.GaussianBlur(grey, (0, 0), 2.0)
    fine = cv2.absdiff(cv2.GaussianBlur(grey, (0, 0), 0.5), soft)
    coarse = cv2.absdiff(soft, cv2.GaussianBlur(grey, (0, 0), 5.0))
    return tile_median(np.asarray(fine)), tile_median(np.asarray(coarse))
