"""A scratch is seen twice, itself and in the mirror beneath it, a little aside: twins are taken as one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from discscan.calibration import setting
from discscan.records import FloatArray

if TYPE_CHECKING:
    from discscan.damage.kinds import Line


def without_twins(lines: list[Line]) -> list[Line]:
    """The lines without the fainter one of each pair that runs side by side at a small, steady distance."""
    order = sorted(lines, key=lambda line: (line.kind != "crack", -line.look.contrast * line.look.length_mm))
    lines_mm = [line.look.points_mm for line in order]
    low, high = (np.array([end(points, axis=0) for points in lines_mm]).reshape(-1, 2) for end in (np.min, np.max))
    beyond = np.asarray((low[:, None] > high + setting("damage", "twin_apart_mm")).any(axis=2))
    near = ~(beyond | beyond.T)
    kept: list[int] = []
    for i, points in enumerate(lines_mm):
        if not any(near[i, j] and _is_twin(points, lines_mm[j]) for j in kept):
            kept.append(i)
    return [order[i] for i in kept]


def _is_twin(points: FloatArray, other: FloatArray) -> bool:
    """Whether a line runs along another one: most of it at a distance that hardly changes, within the other's ends."""
    sparse = points[:: max(1, len(points) // 25)]
    square = (sparse[:, None, 0] - other[None, :, 0]) ** 2 + (sparse[:, None, 1] - other[None, :, 1]) ** 2
    nearest = square.argmin(axis=1)
    inside = (nearest > 0) & (nearest < len(other) - 1)
    if inside.mean() < setting("damage", "twin_overlap_share"):
        return False
    distance = np.sqrt(square.min(axis=1)[inside])
    return bool(
        distance.mean() < setting("damage", "twin_apart_mm") and distance.std() < setting("damage", "twin_steady_mm")
    )
