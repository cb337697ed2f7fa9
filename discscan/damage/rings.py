"""Ring arcs: lines along the track, told from straight ones and from the rings that every disc has.

A moulded or recorded ring goes on where an arc would end.
"""

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


def along_one_circle(lines: list[LineLook]) -> list[bool]:
    """For each line, whether it is an arc about the disc's centre, alone or with those that go on along its circle.

    A short piece of a ring looks straight; pieces that follow one another on one circle do not.
    """
    found = [is_ring_arc(line) for line in lines]
    flat = [k for k, line in enumerate(lines) if line.radius_spread_mm < setting("damage", "arc_stray_mm")]
    for group in _groups([lines[k] for k in flat]):
        members = [flat[k] for k in group]
        radius = np.concatenate([np.hypot(*lines[k].points_mm.T) for k in members])
        length = sum(lines[k].length_mm for k in members)
        if len(members) > 1 and _is_arc(float(radius.mean()), float(radius.std()), length):
            for k in members:
                found[k] = True
    return found


def is_ring_arc(line: LineLook) -> bool:
    """Does the line run along the track, long enough to tell?"""
    return _is_arc(line.radius_mm, line.radius_spread_mm, line.length_mm)


def _is_arc(radius_mm: float, spread_mm: float, length_mm: float) -> bool:
    """Does a line run along the track? A straight one of its length would stray from the circle by its sagitta."""
    sagitta = length_mm**2 / (8 * radius_mm)
    stray = min(setting("damage", "arc_stray_share") * sagitta, setting("damage", "arc_stray_mm"))
    return sagitta > setting("damage", "arc_sagitta_mm") and spread_mm < stray


def _groups(lines: list[LineLook]) -> list[list[int]]:
    """Indices of lines that follow one another on one circle, with small gaps between their ends."""
    spans = []
    for line in lines:
        angle = np.unwrap(np.arctan2(line.points_mm[:, 1], line.points_mm[:, 0]))
        spans.append((float(angle.mean()), float(np.ptp(angle)) / 2))
    left, groups = set(range(len(lines))), []
    while left:
        group = [left.pop()]
        for k in group:  # grows as it is gone through
            for other in list(left):
                mean = spans[other][0] - spans[k][0]
                apart = abs((mean + np.pi) % (2 * np.pi) - np.pi) - spans[k][1] - spans[other][1]
                beside = abs(lines[other].radius_mm - lines[k].radius_mm)
                gap_mm = apart * lines[k].radius_mm
                near = -setting("damage", "arc_overlap_mm") < gap_mm < setting("damage", "arc_gap_mm")
                if near and beside < setting("damage", "arc_beside_mm"):
                    group.append(other)
                    left.discard(other)
        groups.append(group)
    return groups
