"""A photograph's disc from straight above, in millimetres, and how well each part of it was seen.

`flatten_disc` gives the square grid that all later rooms read.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import limit, setting
from discscan.doubts import Doubt
from discscan.flatten.sharpness import edge_blur_px
from discscan.flatten.sight import sight_of
from discscan.formats import data_area_mm
from discscan.grids import ring
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
    flat = warp_to_grid(bgr, located.homography_px_to_mm, diameter_mm=located.diameter_mm)
    hidden = _beyond_photo(bgr.shape, located, side=side), _under(covered_by, located, side=side)
    sight = sight_of(flat, diameter_mm=located.diameter_mm, px_per_mm=PX_PER_MM, beyond=hidden[0], under=hidden[1])

    share = _shares(sight, located.diameter_mm)
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
        doubts=(*_picture_doubts(blur_px=blur, photo_px_per_mm=photo_px_per_mm), *_share_doubts(share)),
        towards_camera=located.towards_camera,
    )


def with_cover(flat: FlatDisc, hidden: NDArray[np.bool_]) -> FlatDisc:
    """The same disc with what lies over it known: fingers, a tray's teeth, stickers.

    Args:
        hidden: bool (side / n, side / n), n whole.
    """
    mask = cv2.resize(hidden.astype(np.uint8), flat.sight.shape[::-1], interpolation=cv2.INTER_NEAREST)
    over = (mask > 0) & (flat.sight != int(Sight.OFF_DISC)) & (flat.sight != int(Sight.OUTSIDE_PHOTO))
    if not over.any():  # what lies beside the disc or shows through its hole is hidden, too
        return flat
    sight = flat.sight.copy()
    sight[over] = Sight.COVERED
    return with_sight(flat, flat.bgr, sight)


def with_sight(flat: FlatDisc, bgr: ByteImage, sight: ByteImage) -> FlatDisc:
    """The same disc with another map of what was seen, and its picture; shares and their doubts follow.

    Args:
        bgr: uint8 (side, side, 3).
        sight: uint8 (side, side) of `Sight`.
    """
    share = _shares(sight, flat.diameter_mm)
    lasting = tuple(doubt for doubt in flat.doubts if doubt not in _OF_SHARES)
    return replace(
        flat,
        bgr=bgr,
        sight=sight,
        glare_fraction=float(share[Sight.GLARE]),
        measured_fraction=float(share[Sight.SEEN]),
        doubts=(*lasting, *_share_doubts(share)),
    )


def _shares(sight: ByteImage, diameter_mm: int) -> FloatArray:
    """Share of the data area with each `Sight`."""
    inner, outer = data_area_mm("unknown", diameter_mm)
    area = ring(len(sight), PX_PER_MM, inner_mm=inner, outer_mm=outer)
    cells = cv2.calcHist([sight], [0], area.view(np.uint8), [len(Sight)], [0, len(Sight)]).ravel()
    return np.asarray(cells / cells.sum(dtype=np.float64))


def grid_side(diameter_mm: int) -> int:
    """Columns (and rows) of the grid: 1240 for 120 mm, 840 for 80 mm."""
    return round((diameter_mm + 2 * MARGIN_MM) * PX_PER_MM)


def _to_grid(homography_px_to_mm: FloatArray, side: int) -> FloatArray:
    """Photo pixel to grid cell, (3, 3)."""
    place = np.array([[PX_PER_MM, 0, side / 2], [0, PX_PER_MM, side / 2], [0, 0, 1]])
    return np.asarray(place @ homography_px_to_mm, dtype=np.float64)


def warp_to_grid(bgr: ByteImage, homography_px_to_mm: FloatArray, *, diameter_mm: int) -> ByteImage:
    """The grid's picture, uint8 (side, side, 3). A photograph finer than the grid is averaged down first, or it would
    alias.

    Whole factors are area means; what is left, below two, is a small Gaussian.
    """
    side = grid_side(diameter_mm)
    to_grid = _to_grid(homography_px_to_mm, side)
    corners = np.array([[[0, 0], [side, 0], [side, side], [0, side]]], float)
    reach = cv2.perspectiveTransform(corners, np.linalg.inv(to_grid))[0]
    shrink = float(np.sqrt(abs(cv2.contourArea(reach.astype(np.float32))))) / side
    factor = max(1, int(shrink))
    height, width = bgr.shape[:2]
    left, top = (np.clip(np.floor(reach.min(axis=0)) - 2, 0, None) // factor * factor).astype(int)
    right, bottom = np.minimum(np.ceil(reach.max(axis=0)).astype(int) + 2, [width, height])
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
    warp = partial(cv2.warpPerspective, M=to_grid @ from_piece, dsize=(side, side), borderMode=cv2.BORDER_REPLICATE)
    if shrink <= 0.8:
        return np.asarray(warp(piece, flags=cv2.INTER_CUBIC), np.uint8)
    four = warp(cv2.cvtColor(piece, cv2.COLOR_BGR2BGRA), flags=cv2.INTER_LINEAR)  # quicker than three channels
    return np.asarray(cv2.cvtColor(four, cv2.COLOR_BGRA2BGR), np.uint8)


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
    back = np.linalg.inv(_to_grid(located.homography_px_to_mm, side)).astype(np.float32)
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
    to_grid = _to_grid(located.homography_px_to_mm, side)
    turn = np.linspace(0, 2 * np.pi, 360, endpoint=False)
    circle = np.stack([np.cos(turn), np.sin(turn)], -1)
    for over in covered_by:
        back = to_grid @ np.linalg.inv(over.homography_px_to_mm)
        for radius, value in ((over.diameter_mm / 2 + 0.5, 1), (7.0, 0)):
            border = cv2.perspectiveTransform((radius * circle)[None], back)[0]
            cv2.fillPoly(mask, [np.round(border).astype(np.int32)], value)
    return mask.astype(bool)


def _beyond(name: str, value: float) -> bool:
    return value > setting("flatten", name)


def _picture_doubts(*, blur_px: float, photo_px_per_mm: float) -> tuple[Doubt, ...]:
    """Doubts about the picture: too few pixels, or blurred."""
    found: list[Doubt] = []
    if photo_px_per_mm < setting("flatten", "too_small_px_per_mm"):
        found.append(Doubt.TOO_SMALL)
    elif photo_px_per_mm < setting("flatten", "coarse_px_per_mm"):
        found.append(Doubt.COARSE)
    if _beyond("unsharp_px", blur_px):  # else the photo's pixels are the limit: that is COARSE, above
        if _beyond("blurred_mm", blur_px / photo_px_per_mm):
            found.append(Doubt.BLURRED)
        elif _beyond("soft_mm", blur_px / photo_px_per_mm):
            found.append(Doubt.SOFT)
    return tuple(found)


_OF_SHARES: Mapping[Doubt, Callable[[FloatArray], bool]] = {
    Doubt.GLARE: lambda share: _beyond("glare_share", share[Sight.GLARE]),
    Doubt.DARK: lambda share: _beyond("dark_share", share[Sight.DARK]),
    Doubt.COVERED: lambda share: _beyond("covered_share", share[Sight.COVERED]),
    Doubt.LITTLE_SEEN: lambda share: share[Sight.SEEN] < limit("min_measured_fraction").value,
    Doubt.HALF_SEEN: lambda share: (
        limit("min_measured_fraction").value <= share[Sight.SEEN] < limit("play_measured_fraction").value
    ),
}
"""Doubts about how much of the data area was seen: each with whether the shares raise it."""


def _share_doubts(share: FloatArray) -> tuple[Doubt, ...]:
    return tuple(doubt for doubt, raised in _OF_SHARES.items() if raised(share))
