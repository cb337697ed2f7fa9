"""Ring arcs: lines along the track, told from straight ones by how well a circle about the disc's centre fits them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from discscan.calibration import setting
from discscan.damage.measure import LineLook
from discscan.damage.trace import Trace
from discscan.polylines import Polylines, runs
from discscan.records import FloatArray


def parted(traces: list[Trace]) -> list[Trace]:
    """Traces cut where they turn off a circle about the disc's centre or onto one: an arc that meets a scratch is two.

    Only a stretch that is long enough to be told from a straight line is cut out.
    """
    long = [k for k, trace in enumerate(traces) if trace.length_mm >= setting("damage", "arc_apart_mm")]
    cuts = [{0, len(trace.points_mm)} for trace in traces]
    stretches = [(long[k], *ends) for k, *ends in _along_track([traces[k].points_mm for k in long])]
    spreads = _spreads([traces[k].points_mm[first:last] for k, first, last in stretches])
    for (k, first, last), (circle_mm, straight_mm) in zip(stretches, spreads, strict=True):
        if _is_arc(circle_mm, straight_mm):
            cuts[k] |= {first, last}
    return [
        trace.between(first, last)
        for trace, at in zip(traces, cuts, strict=True)
        for first, last in pairwise(sorted(at))
        if last - first > 1
    ]


def _along_track(shapes: list[FloatArray]) -> list[tuple[int, int, int]]:
    """Runs of points at which lines go along the track, as their neighbours tell: which line, first, past the last."""
    if not shapes:
        return []
    reach, lines = setting("damage", "direction_mm"), Polylines.of(shapes)
    along, last = lines.along, lines.first + lines.size - 1
    start, end = along[lines.first][lines.owner], along[last][lines.owner]
    ahead, behind = (
        np.stack([np.interp(np.clip(along + shift, start, end), along, lines.points[:, k]) for k in (0, 1)], -1)
        for shift in (reach, -reach)
    )
    way = ahead - behind
    outward = np.abs((way * lines.points).sum(1)) / np.maximum(np.hypot(*way.T) * np.hypot(*lines.points.T), 1e-9)
    found: list[tuple[int, int, int]] = []
    apart = zip(lines.split(along), lines.split(outward < setting("damage", "along_track_cosine")), strict=True)
    for k, (place, inside) in enumerate(apart):
        for first, past in runs(inside):
            if found and found[-1][0] == k and place[first] - place[found[-1][2]] < reach:  # a wobble is no end
                found[-1] = (*found[-1][:2], past)
            else:
                found.append((k, first, past))
    return found


def arcs_among(lines: list[LineLook]) -> list[list[int]]:
    """Which lines are arcs about the disc's centre, alone or with those that go on along its circle: those together.

    A short piece of a ring looks straight; pieces that follow one another on one circle do not.
    """
    arcs = []
    flat = [k for k, line in enumerate(lines) if line.radius_spread_mm < _most_stray_mm(line.straight_spread_mm)]
    for group in _groups([lines[k] for k in flat]):
        members = [flat[k] for k in group]
        together = np.concatenate([lines[k].points_mm for k in members])
        if len(members) > 1 and _is_arc(*_spreads([together])[0]):
            arcs.append(members)
        else:
            arcs += [[k] for k in members if is_ring_arc(lines[k])]
    return arcs


def amid_arcs(lines: list[LineLook], arcs: Sequence[int]) -> list[int]:
    """Which other lines lie amid a pack of arcs and go its way: too short or too crooked to be told alone.

    Args:
        arcs: indices of the lines that are arcs.
    """
    others = [k for k in sorted(set(range(len(lines))) - set(arcs)) if _goes_along(lines[k])]
    if not (arcs and others):
        return []
    together, packed = Polylines.of([lines[k].points_mm for k in others]), [lines[k] for k in arcs]
    radius = np.hypot(*together.points.T)
    amid = np.zeros(len(radius), np.bool_)
    for arc, middle, half in zip(packed, *_spans(packed), strict=True):
        gap_mm = (_turn_between(together.angle, middle) - half) * radius
        beside_mm = np.abs(radius - arc.radius_mm)
        amid |= (gap_mm < setting("damage", "arc_gap_mm")) & (beside_mm < setting("damage", "pack_beside_mm"))
    return [others[k] for k in np.flatnonzero(together.means(amid.astype(np.float64)) > 0.5)]


def _goes_along(line: LineLook) -> bool:
    """Whether a line goes along the track on the whole: a straight one spreads by its length over the root of 12."""
    return line.radius_spread_mm * 12**0.5 < setting("damage", "along_track_cosine") * line.length_mm


def is_ring_arc(line: LineLook) -> bool:
    """Does the line run along the track, long enough to tell?"""
    return _is_arc(line.radius_spread_mm, line.straight_spread_mm)


def _is_arc(circle_mm: float, straight_mm: float) -> bool:
    """Does a line run along the track? It strays much less from a circle about the centre than from a straight line."""
    stray = min(setting("damage", "arc_stray_share") * straight_mm, _most_stray_mm(straight_mm))
    return straight_mm > setting("damage", "arc_bow_mm") and circle_mm < stray


def _most_stray_mm(straight_mm: float) -> float:
    """By how much an arc may stray from its circle: in a pack a long trace goes from groove to groove."""
    return setting("damage", "arc_stray_mm") + setting("damage", "arc_drift_share") * straight_mm


def _spreads(shapes: list[FloatArray]) -> list[tuple[float, float]]:
    """Rms distance of each (n, 2) from its best circle about the disc's centre, and from its best straight line."""
    if not shapes:
        return []
    lines = Polylines.of(shapes)
    circle_mm, straight_mm = lines.spreads(np.hypot(*lines.points.T)), lines.spreads(lines.straightened[1])
    return list(zip(circle_mm.tolist(), straight_mm.tolist(), strict=True))


def _groups(lines: list[LineLook]) -> list[list[int]]:
    """Indices of lines that lie on one circle, with small gaps or, in a pack of arcs, side by side."""
    if not lines:
        return []
    middle, half = _spans(lines)
    left, groups = set(range(len(lines))), []
    while left:
        group = [left.pop()]
        for k in group:  # grows as it is gone through
            for other in list(left):
                apart = _turn_between(middle[other], middle[k]) - half[k] - half[other]
                beside = abs(lines[other].radius_mm - lines[k].radius_mm)
                gap_mm = apart * lines[k].radius_mm
                if gap_mm < setting("damage", "arc_gap_mm") and beside < setting("damage", "arc_beside_mm"):
                    group.append(other)
                    left.discard(other)
        groups.append(group)
    return groups


def _spans(lines: Sequence[LineLook]) -> tuple[FloatArray, FloatArray]:
    """The middle of each line's turn about the disc's centre, (k,), and half of the turn, rad."""
    together = Polylines.of([line.points_mm for line in lines])
    last, first = together.most(together.angle), -together.most(-together.angle)
    return (first + last) / 2, (last - first) / 2


def _turn_between(one: ArrayLike, other: ArrayLike) -> FloatArray:
    """By how much two directions differ, 0 to half a turn, rad."""
    return np.abs((np.subtract(one, other) + np.pi) % (2 * np.pi) - np.pi)
