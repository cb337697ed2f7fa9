"""A scratch is seen twice, itself and in the mirror beneath it: such twins are taken as one, where the scratch is.

How far the image lies from the scratch, and which way, follows from the tilt and the clear layer: the lines of a
bunch, which run side by side as well, are left alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.damage.measure import moved
from discscan.polylines import IntArray, Polylines
from discscan.records import FloatArray

if TYPE_CHECKING:
    from discscan.damage.kinds import Line


def without_twins(lines: list[Line], shifts_mm: Sequence[FloatArray]) -> list[Line]:
    """The lines without those that are another one's image in the mirror, or the same line found twice.

    A line of which a piece is seen twice, the line itself being the image, is moved to where the mark must be.

    Args:
        shifts_mm: each (2,), where the image of a mark may lie from it, one for each format that the disc may have.
    """
    if len(lines) < 2:
        return lines
    order = sorted(lines, key=lambda line: (line.kind != "crack", -line.look.contrast * line.look.length_mm))
    points = [line.look.points_mm for line in order]
    reach = max((float(np.hypot(*shift)) for shift in shifts_mm), default=0.0) + setting("damage", "twin_stray_mm")
    low, high = _corners(points)
    beyond = np.asarray((low[:, None] > high + reach).any(axis=2))
    first, second = np.nonzero(np.tril(~(beyond | beyond.T), -1))
    ways = [np.zeros(2), *(-shift for shift in shifts_mm), *shifts_mm]
    near = _partly_beside(points, first, second, ways)
    pairs = np.flatnonzero(near.any(axis=0))
    dropped: set[int] = set()
    images: dict[int, FloatArray] = {}
    for i, j, may in zip(first[pairs].tolist(), second[pairs].tolist(), near.T[pairs], strict=True):
        if i not in dropped and j not in dropped:
            less, shift = _less(i, j, points, ways, may)
            if less is not None:
                dropped.add(less)
            if shift is not None:
                images.setdefault(j, shift)
    return [
        replace(line, look=moved(line.look, -images[k])) if k in images else line
        for k, line in enumerate(order)
        if k not in dropped
    ]


def _corners(lines: list[FloatArray]) -> tuple[FloatArray, FloatArray]:
    """(k, 2) least and greatest coordinates of each line."""
    together = Polylines.of(lines)
    return -together.most(-together.points), together.most(together.points)


def _partly_beside(
    points: list[FloatArray], first: IntArray, second: IntArray, ways: Sequence[FloatArray]
) -> NDArray[np.bool_]:
    """(ways, n) where enough of a pair's first line, moved that way, lies about the second's chord to lie along it.

    Of distances whose mean is less than the stray, more than half are less than twice that.

    Args:
        first, second: (n,) indices of lines.
    """
    chords = np.array([line[-1] - line[0] for line in points]).reshape(-1, 2)
    along = chords / np.maximum(np.hypot(*chords.T), 1e-9)[:, None]
    frames = np.stack([along, np.stack([-along[:, 1], along[:, 0]], 1)], 2)
    turned = [line @ frame for line, frame in zip(points, frames, strict=True)]
    reach = 2 * setting("damage", "twin_stray_mm")
    low, high = _corners(turned)
    sparse = [_sparse(line) for line in points]
    size = np.array([len(sparse[i]) for i in first], np.intp)
    pair, of = np.repeat(np.arange(len(first)), size), np.repeat(second, size)
    places = np.concatenate([np.zeros((0, 2)), *(sparse[i] @ frames[j] for i, j in zip(first, second, strict=True))])
    near = np.zeros((len(ways), len(first)), np.bool_)
    low, high = low[of] - reach, high[of] + reach
    enough = setting("damage", "twin_overlap_share") / 2 * size
    for k, way in enumerate(ways):
        moved = places + (way @ frames)[of]
        along, aside = ((moved > low) & (moved < high)).T
        near[k] = np.bincount(pair[along & aside], minlength=len(first)) >= enough
    return near


def _less(
    i: int, j: int, points: list[FloatArray], ways: Sequence[FloatArray], may: NDArray[np.bool_]
) -> tuple[int | None, FloatArray | None]:
    """Which of two lines, the second the plainer, tells nothing new; and how far the second lies from its mark.

    Args:
        ways: none, then from each image to its mark, then from each mark to its image.
        may: whether the first line, moved each of the ways, may lie along the second.
    """
    for k in np.flatnonzero(may).tolist():
        if _lies_along(points[i] + ways[k], points[j]):
            if k <= len(ways) // 2:  # it lies there as it is, or is the image of a mark there
                return i, None
            # the plainer one is the image of this one, or of more than this
            return (j, None) if _lies_along(points[j] - ways[k], points[i]) else (i, ways[k])
    return None, None


def _lies_along(points: FloatArray, other: FloatArray) -> bool:
    """Whether a line lies on another one, most of it within the other's ends."""
    sparse = _sparse(points)
    square = (sparse[:, None, 0] - other[None, :, 0]) ** 2 + (sparse[:, None, 1] - other[None, :, 1]) ** 2
    nearest = square.argmin(axis=1)
    inside = (nearest > 0) & (nearest < len(other) - 1)
    if np.count_nonzero(inside) / len(inside) < setting("damage", "twin_overlap_share"):
        return False
    return bool(np.sqrt(square[inside, nearest[inside]]).mean() < setting("damage", "twin_stray_mm"))


def _sparse(points: FloatArray) -> FloatArray:
    return points[:: max(1, len(points) // 25)]
