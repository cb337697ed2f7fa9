"""A photograph's disc from straight above, in millimetres, and how well each part of it was seen.

`flatten_disc` gives the square grid that all later rooms read; `polar_band` unrolls a ring of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import limit, setting
from discscan.doubts import Doubt
from discscan.flatten.sharpness import edge_blur_px
from discscan.flatten.sight import sight_of
from discscan.formats import data_area_mm
from discscan.records import ByteImage, FlatDisc, FloatArray, LocatedDisc, Sight

PX_PER_MM = 10.0
"""Of the grid: half the width of the finest scratch that a whole disc in a phone's photograph can show."""
MARGIN_MM = 2.0
"""Kept beyond the rim, so that cracks and stains can be followed to the very edge."""


def flatten_disc(bgr: ByteImage, located: LocatedDisc, *, covered_by: Sequence[LocatedDisc] = ()) -> FlatDisc:
    """See a disc of a photograph from straight above, at 10 px per mm, with what was seen of it and how well.

    Args:
        bgr: the photograph, uint8 (height_px, width_px, 3).
        covered_by: other discs of the same photograph that lie over this one.
    """
    side = grid_side(located.diameter_mm)
    photo_px_per_mm = 1 / located.mm_per_px
    flat = _warp(bgr, located, side=side, shrink=photo_px_per_mm / PX_PER_MM)
    hidden = _beyond_photo(bgr.shape, located, side=side), _under(covered_by, located, side=side)
    sight = sight_of(flat, diameter_mm=located.diameter_mm, px_per_mm=PX_PER_MM, beyond=hidden[0], under=hidden[1])

    radius = radius_mm(side, PX_PER_MM)
    inner, outer = data_area_mm("unknown", located.diameter_mm)
    seen = np.bincount(sight[(radius >= inner) & (radius <= outer)], minlength=len(Sight))
    share = seen / seen.sum()
    blur = edge_blur_px(bgr, located)
    return FlatDisc(
        diameter_mm=located.diameter_mm,
        px_per_mm=PX_PER_MM,
        bgr=flat,
        sight=sight,
        photo_px_per_mm=photo_px_per_mm,
        sharpness=min(1.0, setting("flatten", "sharp_blur_px") / blur),
        glare_fraction=float(share[Sight.GLARE]),
        measured_fraction=float(share[Sight.SEEN]),
        doubts=_doubts(share, blur_px=blur, photo_px_per_mm=photo_px_per_mm),
    )


def polar_band(
    flat: FlatDisc, *, radius_min_mm: float, radius_max_mm: float, angles: int = 1440, px_per_mm: float = PX_PER_MM
) -> tuple[ByteImage, ByteImage]:
    """Unroll a ring of the disc: rows are angles from +x towards +y, columns are radii.

    Returns:
        bgr: uint8 (angles, columns, 3); row i lies at 360 i / angles degrees, column j at radius_min_mm + j / px_per_mm
            mm.
        sight: uint8 (angles, columns) of `Sight`.
    """
    columns = round((radius_max_mm - radius_min_mm) * px_per_mm)
    side = flat.sight.shape[0]
    maps = _polar_maps(side, flat.px_per_mm, radius_min_mm, columns, px_per_mm, angles)
    bgr = cv2.remap(flat.bgr, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    sight = cv2.remap(flat.sight, *maps, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
    return bgr, sight  # type: ignore[return-value]


def grid_side(diameter_mm: int) -> int:
    """Columns (and rows) of the grid: 1240 for 120 mm, 840 for 80 mm."""
    return round((diameter_mm + 2 * MARGIN_MM) * PX_PER_MM)


@lru_cache(maxsize=4)
def radius_mm(side: int, px_per_mm: float) -> NDArray[np.float32]:
    """Distance of each cell from the disc's centre, float32 (side, side). Shared: do not write to it."""
    along = (np.arange(side, dtype=np.float32) - side / 2) / px_per_mm
    radius: NDArray[np.float32] = np.hypot(along[None, :], along[:, None])
    radius.flags.writeable = False
    return radius


def _to_grid(located: LocatedDisc, side: int) -> FloatArray:
    """Photo pixel to grid cell, (3, 3)."""
    place = np.array([[PX_PER_MM, 0, side / 2], [0, PX_PER_MM, side / 2], [0, 0, 1]])
    return np.asarray(place @ located.homography_px_to_mm, dtype=np.float64)


def _warp(bgr: ByteImage, located: LocatedDisc, *, side: int, shrink: float) -> ByteImage:
    """The grid's picture. A photograph finer than the grid is averaged down first, or it would alias.

    Whole factors are area means; what is left, below two, is a small Gaussian.
    """
    to_grid = _to_grid(located, side)
    reach = (
        np.array([located.rim.cx, located.rim.cy]),
        located.rim.axis_major * 0.5 * (side / PX_PER_MM + 2) / (located.diameter_mm),
    )
    factor = max(1, int(shrink))
    height, width = bgr.shape[:2]
    left, top = (np.clip(np.floor(reach[0] - reach[1]), 0, None) // factor * factor).astype(int)
    right, bottom = np.minimum(np.ceil(reach[0] + reach[1]).astype(int) + 1, [width, height])
    piece = bgr[top:bottom, left:right]
    if factor > 1 and min(piece.shape[:2]) >= factor:
        piece = piece[: piece.shape[0] // factor * factor, : piece.shape[1] // factor * factor]
        small = (piece.shape[1] // factor, piece.shape[0] // factor)
        piece = cv2.resize(piece, small, interpolation=cv2.INTER_AREA)  # type: ignore[assignment]
    left_over = shrink / factor
    if left_over > 1.25:
        piece = cv2.GaussianBlur(piece, (3, 3), 0.45 * float(np.sqrt(left_over**2 - 1)))  # type: ignore[assignment]
    half = (factor - 1) / 2  # a mean's centre lies between its pixels
    from_piece = np.array([[factor, 0, left + half], [0, factor, top + half], [0, 0, 1.0]])
    flags = cv2.INTER_LINEAR if shrink > 0.8 else cv2.INTER_CUBIC
    return cv2.warpPerspective(  # type: ignore[return-value]
        piece, to_grid @ from_piece, (side, side), flags=flags, borderMode=cv2.BORDER_REPLICATE
    )


def _beyond_photo(shape: tuple[int, ...], located: LocatedDisc, *, side: int) -> NDArray[np.bool_] | None:
    """Cells that the photograph does not hold; None when it holds the whole disc."""
    turn = np.linspace(0, 2 * np.pi, 180, endpoint=False)
    reach_mm = located.diameter_mm / 2 + 0.5
    rim = cv2.perspectiveTransform(
        (reach_mm * np.stack([np.cos(turn), np.sin(turn)], -1))[None], np.linalg.inv(located.homography_px_to_mm)
    )[0]
    last = np.array([shape[1] - 1, shape[0] - 1])
    if (rim >= 0).all() and (rim <= last).all():
        return None
    back = np.linalg.inv(_to_grid(located, side)).astype(np.float32)
    cells = np.arange(side, dtype=np.float32)
    column, row = cells[None, :], cells[:, None]
    depth = back[2, 0] * column + back[2, 1] * row + back[2, 2]
    x = (back[0, 0] * column + back[0, 1] * row + back[0, 2]) / depth
    y = (back[1, 0] * column + back[1, 1] * row + back[1, 2]) / depth
    outside: NDArray[np.bool_] = (x < 0) | (y < 0) | (x > last[0]) | (y > last[1])
    return outside


def _under(covered_by: Sequence[LocatedDisc], located: LocatedDisc, *, side: int) -> NDArray[np.bool_] | None:
    """Cells that lie under other discs, their holes left open; None when there are none."""
    if not covered_by:
        return None
    mask = np.zeros((side, side), np.uint8)
    to_grid = _to_grid(located, side)
    turn = np.linspace(0, 2 * np.pi, 360, endpoint=False)
    circle = np.stack([np.cos(turn), np.sin(turn)], -1)
    for over in covered_by:
        back = to_grid @ np.linalg.inv(over.homography_px_to_mm)
        for radius, value in ((over.diameter_mm / 2 + 0.5, 1), (7.0, 0)):
            border = cv2.perspectiveTransform((radius * circle)[None], back)[0]
            cv2.fillPoly(mask, [np.round(border).astype(np.int32)], value)
    return mask.astype(bool)


def _doubts(share: FloatArray, *, blur_px: float, photo_px_per_mm: float) -> tuple[Doubt, ...]:
    def beyond(name: str, value: float) -> bool:
        return value > setting("flatten", name)

    found: list[Doubt] = []
    if photo_px_per_mm < setting("flatten", "too_small_px_per_mm"):
        found.append(Doubt.TOO_SMALL)
    elif photo_px_per_mm < setting("flatten", "coarse_px_per_mm"):
        found.append(Doubt.COARSE)
    if beyond("unsharp_px", blur_px):  # else the photo's pixels are the limit: that is COARSE, above
        if beyond("blurred_mm", blur_px / photo_px_per_mm):
            found.append(Doubt.BLURRED)
        elif beyond("soft_mm", blur_px / photo_px_per_mm):
            found.append(Doubt.SOFT)
    if beyond("glare_share", share[Sight.GLARE]):
        found.append(Doubt.GLARE)
    if beyond("dark_share", share[Sight.DARK]):
        found.append(Doubt.DARK)
    if beyond("covered_share", share[Sight.COVERED]):
        found.append(Doubt.COVERED)
    if share[Sight.SEEN] < limit("min_measured_fraction").value:
        found.append(Doubt.LITTLE_SEEN)
    elif share[Sight.SEEN] < limit("play_measured_fraction").value:
        found.append(Doubt.HALF_SEEN)
    return tuple(found)


@lru_cache(maxsize=8)
def _polar_maps(
    side: int, grid_px_per_mm: float, radius_min_mm: float, columns: int, px_per_mm: float, angles: int
) -> tuple[NDArray[np.int16], NDArray[np.uint16]]:
    turn = np.arange(angles, dtype=np.float32)[:, None] * np.float32(2 * np.pi / angles)
    radius = (radius_min_mm + np.arange(columns, dtype=np.float32)[None, :] / px_per_mm) * grid_px_per_mm
    maps = cv2.convertMaps(radius * np.cos(turn) + side / 2, radius * np.sin(turn) + side / 2, cv2.CV_16SC2)
    return np.asarray(maps[0], np.int16), np.asarray(maps[1], np.uint16)
