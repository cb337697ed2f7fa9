"""How well each cell of the flat grid was seen: burnt out, lost in the dark, under another disc, or seen."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import constant, setting
from discscan.records import ByteImage, Sight

Mask = NDArray[np.bool_]


def sight_of(
    flat: ByteImage, *, diameter_mm: int, px_per_mm: float, beyond: Mask | None, under: Mask | None
) -> ByteImage:
    """The sight of each cell, uint8 (side, side) of `Sight`.

    Args:
        flat: uint8 (side, side, 3).
        beyond: cells outside the photograph, or None.
        under: cells under other discs, or None.
    """
    side = flat.shape[0]
    sight = np.full((side, side), Sight.SEEN, np.uint8)
    grey = np.asarray(cv2.cvtColor(flat, cv2.COLOR_BGR2GRAY), np.uint8)
    sight[_dark(grey, px_per_mm)] = Sight.DARK
    sight[_glare(flat, grey, px_per_mm)] = Sight.GLARE
    if under is not None:
        sight[under] = Sight.COVERED
    if beyond is not None:
        sight[beyond] = Sight.OUTSIDE_PHOTO
    disc = np.zeros((side, side), np.uint8)
    middle = round(side / 2 * 16)
    cv2.circle(disc, (middle, middle), round(diameter_mm / 2 * px_per_mm * 16), 255, -1, shift=4)
    hole_mm = constant("cd", "hole_mm").value / 2
    cv2.circle(disc, (middle, middle), round(hole_mm * px_per_mm * 16), 0, -1, shift=4)
    return np.asarray(cv2.copyTo(sight, disc, np.full_like(sight, Sight.OFF_DISC)), np.uint8)


def _disc(radius_px: float) -> ByteImage:
    size = 2 * max(1, round(radius_px)) + 1
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))  # type: ignore[return-value]


def _glare(flat: ByteImage, grey: ByteImage, px_per_mm: float) -> Mask:
    """Burnt out in every colour, over more than a scratch's width, and a little around."""
    level = int(setting("flatten", "burnt_level"))  # bytes held against a float would all become floats first
    core, halo = (_disc(setting("flatten", f"glare_{name}_mm") * px_per_mm) for name in ("radius", "grow"))
    reach = len(core) + len(halo)
    grown = np.zeros(grey.shape, bool)
    around = _around(grey >= level, reach)  # no burnt cell is darker
    wide = cv2.erode(cv2.inRange(flat[around], (level,) * 3, (255,) * 3), core)
    within = _around(wide > 0, reach)
    grown[around][within] = cv2.dilate(cv2.dilate(wide[within], core), halo)
    return grown


def _around(cells: Mask, reach: int) -> tuple[slice, slice]:
    """The rows and columns that hold all of a mask, and so many more on every side."""
    left, top, width, height = cv2.boundingRect(cells.view(np.uint8))
    return slice(max(top - reach, 0), top + height + reach), slice(max(left - reach, 0), left + width + reach)


def _dark(grey: ByteImage, px_per_mm: float) -> Mask:
    """So dark all around that the sensor's steps swallow a scratch."""
    reach = round(setting("flatten", "dark_reach_mm") * px_per_mm) | 1
    level = cv2.blur(grey, (reach, reach))
    return np.asarray(level < int(setting("flatten", "dark_level")))
