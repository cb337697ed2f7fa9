"""Tells ring arcs from the rings that every disc has: a moulded or recorded ring goes on where an arc would end."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.damage.ground import SCALE, FloatImage, half_grey, hidden
from discscan.damage.measure import LineLook
from discscan.records import FlatDisc, FloatArray

_ANGLES = 360
_OFFSETS_MM = np.arange(-8, 9) / 10.0


def goes_round(arcs: list[LineLook], flat: FlatDisc) -> list[bool]:
    """For each arc, whether the same ring shows on the rest of the turn too.

    The rest is compared by medians over angle, so that other arcs, scratches and reflections in it do not count. The
    ring may lie a little inside or outside, since pose and lens are not perfect.
    """
    if not arcs:
        return []
    grey = half_grey(flat)
    seen = ~hidden(flat, radius_min_mm=0, radius_max_mm=flat.diameter_mm / 2)
    turn = np.linspace(0, 2 * np.pi, _ANGLES, endpoint=False)
    return [_goes_round(arc, grey, seen, turn, px_per_mm=flat.px_per_mm * SCALE) for arc in arcs]


def _goes_round(
    arc: LineLook, grey: FloatImage, seen: NDArray[np.bool_], turn: FloatArray, *, px_per_mm: float
) -> bool:
    side = grey.shape[0]
    radius = (arc.radius_mm + _OFFSETS_MM) * px_per_mm
    column = (radius[None] * np.cos(turn)[:, None] + side / 2).astype(np.float32)
    row = (radius[None] * np.sin(turn)[:, None] + side / 2).astype(np.float32)
    band = cv2.remap(grey, column, row, cv2.INTER_LINEAR)
    mine = np.zeros(_ANGLES, bool)
    own = np.degrees(np.arctan2(arc.points_mm[:, 1], arc.points_mm[:, 0])).round().astype(int)
    for shift in range(-3, 4):
        mine[(own + shift) % _ANGLES] = True
    whole = seen[np.clip(row.astype(int), 0, side - 1), np.clip(column.astype(int), 0, side - 1)].all(axis=1)
    rest = whole & ~mine
    if rest.sum() < setting("damage", "ring_least_deg"):
        return bool(mine.mean() > 0.6)
    here = _bump(np.median(band[whole & mine], axis=0)) if (whole & mine).any() else np.zeros(9)
    there = _bump(np.median(band[rest], axis=0))
    peak = here[np.abs(here).argmax()]
    return bool((there * np.sign(peak)).max() > setting("damage", "ring_goes_on_share") * abs(peak))


def _bump(profile: FloatImage) -> NDArray[np.float64]:
    """How much the middle of a profile stands out from both sides, at each of its nine middle places."""
    places = np.arange(4, 13)
    left, right = profile[places - 4], profile[places + 4]
    over, under = profile[places] - np.maximum(left, right), profile[places] - np.minimum(left, right)
    return np.where(over > 0, over, np.where(under < 0, under, 0.0)).astype(np.float64)
