"""Ring arcs: lines along the track, told from straight ones by how well a circle about the disc's centre fits them."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from discscan.calibration import setting
from discscan.damage.measure import LineLook
from discscan.damage.trace import Trace
from discscan.polylines import runs
from discscan.records import FloatArray


def parted(trace: Trace) -> list[Trace]:
    """A trace cut where it turns off a circle about the disc's centre or onto one: an arc that meets a scratch is two.

    Only a stretch that is long enough to be told from a straight line is cut out.
    """
    if trace.length_mm < setting("damage", "arc_apart_mm"):
        return [trace]
    cuts = [0, len(trace.points_mm)]
    for first, last in _along_track(trace.points_mm):
        run = trace.between(first, last)
        radius = np.hypot(*run.points_mm.T)
        if _is_arc(float(radius.mean()), float(radius.std()), run.length_mm):
            cuts += [first, last]
    return [trace.between(a, b) for a, b in pairwise(sorted(set(cuts))) if b - a > 1]


def _along_track(points_mm: FloatArray) -> list[tuple[int, int]]:
    """Runs (first, past the last) of points at which a line goes along the track, as its neighbours tell."""
    reach = setting("damage", "direction_mm")
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points_mm, axis=0).T))])
    ahead, behind = (
        np.stack([np.interp(along + shift, along, points_mm[:, k]) for k in (0, 1)], -1) for shift in (reach, -reach)
    )
    way = ahead - behind
    outward = np.abs((way * points_mm).sum(1)) / np.maximum(np.hypot(*way.T) * np.hypot(*points_mm.T), 1e-9)
    found: list[tuple[int, int]] = []
    for first, last in runs(outward < setting("damage", "along_track_cosine")):
        if found and along[first] - along[min(found[-1][1], len(along) - 1)] < reach:  # a wobble is no end
            found[-1] = (found[-1][0], last)
        else:
            found.append((first, last))
    return found


def arcs_among(lines: list[LineLook]) -> list[list[int]]:
    """Which lines are arcs about the disc's centre, alone or with those that go on along its circle: those together.

    A short piece of a ring looks straight; pieces that follow one another on one circle do not.
    """
    arcs = []
    flat = [k for k, line in enumerate(lines) if line.radius_spread_mm < setting("damage", "arc_stray_mm")]
    for group in _groups([lines[k] for k in flat]):
        members = [flat[k] for k in group]
        radius = np.concatenate([np.hypot(*lines[k].points_mm.T) for k in members])
        length = sum(lines[k].length_mm for k in members)
        if len(members) > 1 and _is_arc(float(radius.mean()), float(radius.std()), length):
            arcs.append(members)
        else:
            arcs += [[k] for k in members if is_ring_arc(lines[k])]
    return arcs


def is_ring_arc(line: LineLook) -> bool:
    """Does the line run along the track, long enough to tell?"""
    return _is_arc(line.radius_mm, line.radius_spread_mm, line.length_mm)


def _is_arc(radius_mm: float, spread_mm: float, length_mm: float) -> bool:
    """Does a line run along the track? A straight one of its length would stray from the circle by its sagitta."""
    sagitta = length_mm**2 / (8 * radius_mm)
    stray = min(setting("damage", "arc_stray_share") * sagitta, setting("damage", "arc_stray_mm"))
    return sagitta > setting("damage", "arc_sagitta_mm") and spread_mm < stray


def _groups(lines: list[LineLook]) -> list[list[int]]:
    """Indices of lines that lie on one circle, with small gaps or, in a pack of arcs, side by side."""
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
                if gap_mm < setting("damage", "arc_gap_mm") and beside < setting("damage", "arc_beside_mm"):
                    group.append(other)
                    left.discard(other)
        groups.append(group)
    return groups
