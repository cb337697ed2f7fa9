"""Where along the turns of the track the beam is lost: damage in polar coordinates, cut by turns.

A turn is a circle about the disc's centre; the track is a spiral of turns so fine that neighbours meet the same damage.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from discscan.polylines import IntArray, resampled
from discscan.records import LINE_KINDS, Defect, FloatArray

STEP_MM = 1.0
"""Centre lines are resampled to this, which also smooths the jitter of the pixels they were found on."""

ARC_STEP_MM = 0.03
"""Arcs this near to each other share a turn: a quarter of the narrowest beam."""

LEVELS = np.array([0.02, 0.4, 1.0])
"""Shares of a defect's widest loss at which its runs are measured; between them a run grows in straight lines."""


@dataclass(frozen=True)
class Strands:
    """Damage as short straight pieces in polar coordinates, in the order of the defects and along each of them.

    Attributes:
        defect: (n,) index of the piece's defect.
        theta: (n, 2) angle of its two ends, rad, unwrapped along the defect.
        radius: (n, 2) radius of its two ends, mm.
        whole: (n,) whether the defect is an area, lost from its first to its last border on a turn.
    """

    defect: IntArray
    theta: FloatArray
    radius: FloatArray
    whole: NDArray[np.bool_]

    @cached_property
    def along_mm(self) -> FloatArray:
        """(n,) extent along the track."""
        return np.asarray(np.abs(self.theta[:, 1] - self.theta[:, 0]) * self.radius.mean(axis=1))

    @cached_property
    def across_mm(self) -> FloatArray:
        """(n,) extent across the track."""
        return np.abs(self.radius[:, 1] - self.radius[:, 0])

    @cached_property
    def across_sine(self) -> FloatArray:
        """(n,) sine of the angle between the piece and the track."""
        return self.across_mm / np.maximum(np.hypot(self.along_mm, self.across_mm), 1e-12)


@dataclass(frozen=True)
class Runs:
    """Lost stretches of turns, ordered by turn and then by angle. One defect may have several on one turn.

    Attributes:
        turn: (n,) index of the turn.
        defect: (n,) index of the defect.
        theta: (n,) angle of the run's middle, rad, 0..2 pi.
        length_mm: (n, 3) along the track, at `LEVELS` of the defect's widest loss.
        touched_mm: (n,) along the track from the first to the last spot where any of the beam is touched.
    """

    turn: IntArray
    defect: IntArray
    theta: FloatArray
    length_mm: FloatArray
    touched_mm: FloatArray


def strands(defects: tuple[Defect, ...]) -> Strands:
    """Cut the defects' outlines into pieces. A ring arc is taken as the smooth spiral that the turning disc draws."""
    if not defects:
        return Strands(np.zeros(0, np.intp), np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0, np.bool_))
    line = np.array([d.kind in LINE_KINDS for d in defects])
    ring = np.array([d.kind == "ring_arc" for d in defects])
    shapes = [d.outline_mm if d.kind in LINE_KINDS else np.vstack([d.outline_mm, d.outline_mm[:1]]) for d in defects]
    lines = resampled(shapes, step=STEP_MM, at_least=np.where(line, 2, 9))
    owner, theta, radius = lines.owner, lines.angle, np.hypot(*lines.points.T)
    radius = np.where(ring[owner], _straight(theta, radius, owner), radius)
    inside = np.flatnonzero(np.diff(owner) == 0)
    owner = owner[inside]
    theta, radius = np.stack([theta[inside], theta[inside + 1]], 1), np.stack([radius[inside], radius[inside + 1]], 1)
    for index in np.flatnonzero(~line):
        mine = np.flatnonzero(owner == index)
        if abs(theta[mine[-1], 1] - theta[mine[0], 0]) > np.pi:  # round the centre: all inside the border is lost
            most = radius[mine].max()
            theta[mine], radius[mine] = (-np.pi, np.pi), (most, most)
            theta[mine[0]], radius[mine[0]] = (-np.pi, -np.pi), (0, most)
            theta[mine[-1]], radius[mine[-1]] = (np.pi, np.pi), (most, 0)
    return Strands(owner, theta, radius, ~line[owner])


def _straight(theta: FloatArray, radius: FloatArray, owner: IntArray) -> FloatArray:
    """The least-squares line of radius over angle of each defect."""
    count = np.bincount(owner)
    around, out = (np.bincount(owner, values) / count for values in (theta, radius))
    off = theta - around[owner]
    slope = np.bincount(owner, off * (radius - out[owner])) / np.maximum(np.bincount(owner, off * off), 1e-12)
    return np.asarray(out[owner] + slope[owner] * off)


def turns_mm(pieces: Strands, *, inner_mm: float, outer_mm: float, step_mm: float) -> FloatArray:
    """Radii at which to judge: an even grid, and each radius along which damage runs, so that no arc slips between.

    A small area may lie between two turns of the grid, so the pieces of its border count as running along.
    """
    runs_along = (pieces.across_sine < 0.2) | (pieces.whole & (pieces.along_mm < step_mm))
    extra = pieces.radius[runs_along].mean(axis=1)
    extra = np.round(extra / ARC_STEP_MM) * ARC_STEP_MM
    grid = np.arange(inner_mm, outer_mm, step_mm)
    return np.unique(np.concatenate([grid, extra[(extra > inner_mm) & (extra < outer_mm)]]))


def lost_runs(
    pieces: Strands,
    *,
    turns: FloatArray,
    blocked_mm: FloatArray,
    tracking_mm: FloatArray,
    touch_mm: FloatArray,
    servo_hold_mm: float,
) -> Runs:
    """Cut every turn with every defect.

    Args:
        pieces: of the defects.
        turns: (t,) radii, mm, ascending.
        blocked_mm: (d,) the widest loss of light on either side of each defect's centre line; 0 for none.
        tracking_mm: (d,) the same for the loss of tracking, which takes a run touched over more than `servo_hold_mm`.
        touch_mm: (d,) half of beam and groove: as far as a defect shades any part of the beam.
    """
    half_width_mm = np.maximum(blocked_mm, tracking_mm)
    followed = pieces.across_sine < 2 * 2 * touch_mm[pieces.defect] / servo_hold_mm  # twice: neighbours may be flatter
    loss = np.where(followed, half_width_mm[pieces.defect], blocked_mm[pieces.defect])
    reach = np.where(loss > 0, half_width_mm[pieces.defect], -np.inf)
    first = np.searchsorted(turns, pieces.radius.min(axis=1) - reach)
    last = np.searchsorted(turns, pieces.radius.max(axis=1) + reach, side="right")
    count = np.maximum(last - first, 0)
    piece = np.repeat(np.arange(len(count)), count)
    turn = np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count) + np.repeat(first, count)

    order = np.argsort(pieces.defect[piece] * len(turns) + turn, kind="stable")  # pieces are in order as they are
    piece, turn = piece[order], turn[order]
    defect = pieces.defect[piece]
    if not len(piece):
        return Runs(turn, defect, np.zeros(0), np.zeros((0, 3)), np.zeros(0))
    jump = (np.diff(piece) > 1) & ~pieces.whole[piece[1:]]
    starts = np.flatnonzero(np.concatenate([[True], jump | (np.diff(defect) > 0) | (np.diff(turn) != 0)]))

    at = turns[turn]
    halves = np.stack([*(LEVELS[:, None] * half_width_mm[defect]), touch_mm[defect]])
    low, high = _cut(pieces.theta[piece], pieces.radius[piece], at, halves)
    low, high = np.minimum.reduceat(low, starts, axis=1), np.maximum.reduceat(high, starts, axis=1)
    *lengths, touched = np.clip(high - low, 0, 2 * np.pi * at[starts])  # an empty cut is (inf, -inf): no length
    theta = np.mod((low[-1] + high[-1]) / 2 / at[starts], 2 * np.pi)
    turn, defect = turn[starts], defect[starts]
    order = np.lexsort((theta, turn))
    return Runs(turn[order], defect[order], theta[order], np.stack(lengths, axis=1)[order], touched[order])


def _cut(theta: FloatArray, radius: FloatArray, at: FloatArray, half: FloatArray) -> tuple[FloatArray, FloatArray]:
    """First and last place, each (k, n), on a turn within `half` (k, n) of a piece; (inf, -inf) where there is none.

    The neighbourhood of a piece is two discs about its ends and the strip between, in the plane (place along the turn,
    radius): a turn is a straight line there, which for a straight piece of a millimetre is true to some micrometres.
    """
    along = at[:, None] * theta
    above = at[:, None] - radius
    dx, dy = along[:, 1] - along[:, 0], radius[:, 1] - radius[:, 0]
    length = np.maximum(np.hypot(dx, dy), 1e-12)
    low, high = np.full(half.shape, np.inf), np.full(half.shape, -np.inf)
    for end in (0, 1):
        chord = half * half - above[:, end] ** 2
        reach = np.where(chord >= 0, np.sqrt(np.maximum(chord, 0)), -np.inf)
        low, high = np.minimum(low, along[:, end] - reach), np.maximum(high, along[:, end] + reach)
    safe = np.where(np.abs(dy) > 1e-9, dy, np.inf)
    for side in (-1, 1):
        t = (above[:, 0] - side * half * dx / length) / safe
        place = along[:, 0] + t * dx - side * half * dy / length
        inside = (t >= 0) & (t <= 1) & (np.abs(dy) > 1e-9)
        low = np.where(inside, np.minimum(low, place), low)
        high = np.where(inside, np.maximum(high, place), high)
    return low, high
