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
    boxes = [(line.look.points_mm.min(axis=0), line.look.points_mm.max(axis=0)) for line in order]
    reach = setting("damage", "twin_apart_mm")
    kept: list[int] = []
    for i, line in enumerate(order):
        near = (
            j for j in kept if (boxes[j][0] <= boxes[i][1] + reach).all() and (boxes[i][0] <= boxes[j][1] + reach).all()
        )
        if not any(_is_twin(line.look.points_mm, order[j].look.points_mm) for j in near):
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
