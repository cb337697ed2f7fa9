"""From a probability map of lines to centre lines: crests, their points joined to chains, chains joined over gaps.

Knows nothing of how the map was made, nor what the lines are.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np

from discscan.calibration import setting
from discscan.grids import FloatImage
from discscan.polylines import IntArray, Polylines, runs
from discscan.records import FloatArray

_OFF = 0.25
"""A cell of the map holds two of the flat grid: its middle lies a quarter of a cell beyond the first one's."""


@dataclass(frozen=True)
class Trace:
    """A centre line, float64 (n, 2) in mm from the disc's centre, and the map's probability at each point."""

    points_mm: FloatArray
    probability: FloatArray

    @cached_property
    def length_mm(self) -> float:
        return float(np.hypot(*(self.points_mm[1:] - self.points_mm[:-1]).T).sum())

    def between(self, first: int, last: int) -> Trace:
        """Its piece from one point to before another."""
        return Trace(self.points_mm[first:last], self.probability[first:last])

    def within(self, low_mm: float, high_mm: float) -> list[Trace]:
        """Its pieces between two radii."""
        radius = np.hypot(*self.points_mm.T)
        inside = (radius >= low_mm) & (radius <= high_mm)
        return [self] if inside.all() else [self.between(a, b) for a, b in runs(inside) if b - a > 1]


def trace_lines(line: FloatImage, *, px_per_mm: float, low: float, high: float) -> list[Trace]:
    """Centre lines in a probability map, float32 (side, side), at half of the flat grid's scale.

    By hysteresis: a chain may run on `low`, where it reaches `high` somewhere.
    """
    if line.max(initial=0.0) < high:  # nor will it be when smoothed
        return []
    points, ways, values = _crest(line, low)
    chains = _strong(*_chains(points, ways, line.shape), values, high) if len(points) else []
    if not chains:
        return []
    joined = _join(chains, points)
    order = np.concatenate(joined)
    lines = Polylines((points[order] + _OFF - line.shape[0] / 2) / px_per_mm, np.array([len(c) for c in joined]))
    long = np.flatnonzero(lines.length >= setting("damage", "least_trace_mm"))
    ends = zip(lines.first[long].tolist(), (lines.first + lines.size)[long].tolist(), strict=True)
    return [Trace(lines.points[a:b], values[order[a:b]]) for a, b in ends]


def cells_of(trace: Trace, *, side: int, px_per_mm: float) -> FloatArray:
    """Its points in cells of such a map, float64 (n, 2): column and row."""
    return np.asarray(trace.points_mm * px_per_mm + side / 2 - _OFF)


def means_along(traces: list[Trace], level: FloatImage, *, px_per_mm: float) -> list[float]:
    """Mean of another map of the same scale along each line, its largest value within a cell counting."""
    if not traces:
        return []
    grown = cv2.dilate(level, np.ones((3, 3), np.uint8))
    means = []
    for trace in traces:
        places = np.round(cells_of(trace, side=level.shape[0], px_per_mm=px_per_mm)).astype(int)
        columns, rows = np.clip(places, 0, level.shape[0] - 1).T
        means.append(float(grown[rows, columns].mean()))
    return means


def _crest(line: FloatImage, low: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Points (n, 2) where the map is highest across its own ridge, sub-pixel, with unit directions and values.

    Steger's criterion (An unbiased detector of curvilinear structures, 1998): the second-order Taylor polynomial across
    the ridge has its maximum within the pixel.
    """
    smooth = cv2.GaussianBlur(line, (0, 0), setting("damage", "crest_blur_px"))
    width = line.shape[1]
    inner = np.zeros(line.shape, np.bool_)
    inner[1:-1, 1:-1] = smooth[1:-1, 1:-1] >= low
    place = np.flatnonzero(inner)
    rows, columns = np.divmod(place, width)

    def at(dy: int, dx: int) -> FloatImage:
        return np.asarray(smooth.ravel()[place + (dy * width + dx)], np.float32)

    middle, right, left, below, above = at(0, 0), at(0, 1), at(0, -1), at(1, 0), at(-1, 0)
    xx, yy = right + left - 2 * middle, below + above - 2 * middle
    xy = (at(1, 1) + at(-1, -1) - at(1, -1) - at(-1, 1)) / 4
    curve = (xx + yy) / 2 - np.hypot((xx - yy) / 2, xy)  # the most negative curvature
    across = 0.5 * np.arctan2(2 * xy, xx - yy) + np.pi / 2
    nx, ny = np.cos(across), np.sin(across)
    shift = -((right - left) / 2 * nx + (below - above) / 2 * ny) / np.minimum(curve, -1e-9)
    crest = np.flatnonzero((curve < 0) & (np.abs(shift * nx) <= 0.6) & (np.abs(shift * ny) <= 0.6))
    shift, nx, ny = shift[crest], nx[crest], ny[crest]
    points = np.stack([columns[crest] + shift * nx, rows[crest] + shift * ny], -1)
    return points, np.stack([-ny, nx], -1).astype(np.float64), middle[crest].astype(np.float64)


def _strong(order: IntArray, size: IntArray, values: FloatArray, high: float) -> list[IntArray]:
    """Of the chains of `_chains`, those that reach `high`, the clearest first; no more than can be looked at."""
    if not len(size):
        return []
    first, level = np.cumsum(size) - size, values[order]
    strong = np.flatnonzero(np.maximum.reduceat(level, first) >= high)
    clearest = strong[np.argsort(-np.add.reduceat(level, first)[strong], kind="stable")]
    return [order[first[k] : first[k] + size[k]] for k in clearest[: int(setting("damage", "most_pieces"))]]


def _chains(points: FloatArray, ways: FloatArray, shape: tuple[int, ...]) -> tuple[IntArray, IntArray]:
    """Points joined to chains of two or more: each to the best ahead and the best behind, where both agree.

    Returns:
        order: indices of points, chain after chain.
        size: how many are in each.
    """
    count = len(points)
    cell = np.full((shape[0] + 4, shape[1] + 4), -1, np.int32)
    column, row = (np.clip(np.round(points[:, i]).astype(int), 0, shape[1 - i] - 1) + 2 for i in (0, 1))
    cell[row, column] = np.arange(count)
    (x, y), (way_x, way_y) = (np.ascontiguousarray(pairs.T) for pairs in (points, ways))
    everyone = np.arange(count)
    around = np.arange(-2, 3)
    steps = (around[:, None] * cell.shape[1] + around).ravel()
    near = cell.ravel()[steps[steps != 0, None] + row * cell.shape[1] + column].ravel()
    pair = np.flatnonzero(near >= 0)
    other, mine = near[pair], pair % count
    dx_px, dy_px, own_x, own_y = x[other] - x[mine], y[other] - y[mine], way_x[mine], way_y[mine]
    along = dx_px * own_x + dy_px * own_y
    aside = np.abs(dx_px * own_y - dy_px * own_x)
    turn = np.abs(own_x * way_x[other] + own_y * way_y[other])
    fits = (turn > 0.85) & (aside < 0.5 * np.abs(along) + 0.35)
    cost = np.abs(along) + 2 * aside + 4 * (1 - turn)
    mate = np.stack(
        [
            _cheapest(mine[ahead], other[ahead], cost[ahead], count)
            for ahead in map(np.flatnonzero, (fits & (along > 0.3), fits & (along < -0.3)))
        ]
    )
    # a pair counts when each chose the other, whichever way each one points
    agreed = (mate >= 0) & ((mate[0, mate] == everyone) | (mate[1, mate] == everyone))
    links = np.ascontiguousarray(np.where(agreed, mate, -1).T)
    return _walk(links)


def _cheapest(mine: IntArray, other: IntArray, cost: FloatArray, count: int) -> IntArray:
    """(count,) the partner at the least cost, the first of several; -1 for none."""
    least = np.full(count, np.inf)
    np.minimum.at(least, mine, cost)
    best = np.flatnonzero(cost == least[mine])[::-1]
    mate = np.full(count, -1)
    mate[mine[best]] = other[best]
    return mate


def _walk(links: IntArray) -> tuple[IntArray, IntArray]:
    """Chains of linked points, (n, 2), as `_chains` returns them; loops are opened at their first point.

    Whoever stands at a point and looks one of its two ways leaps ahead, twice as far each time, until the end.
    """
    count = len(links)
    point, to = np.arange(2 * count) // 2, links.ravel()
    ahead = np.where(to >= 0, 2 * to + (links[to, 0] == point), np.arange(2 * count))  # not back to where one came from
    steps, lowest = (to >= 0).astype(np.intp), point
    for _ in range(count.bit_length()):
        steps, lowest, ahead = steps + steps[ahead], np.minimum(lowest, lowest[ahead]), ahead[ahead]
        if (to[ahead] < 0).all():
            break
    else:
        first = np.flatnonzero((to[ahead[::2]] >= 0) & (lowest[::2] == point[::2]))
        last, links = links[first, 1], links.copy()
        links[last, (links[last, 1] == first).astype(np.intp)] = links[first, 1] = -1
        return _walk(links)
    one, other = ahead[::2] // 2, ahead[1::2] // 2
    start, rank = np.minimum(one, other), np.where(one <= other, steps[::2], steps[1::2])
    linked = np.flatnonzero(np.maximum(*links.T) >= 0)
    order = linked[np.argsort(start[linked] * count + rank[linked])]
    size = np.bincount(start[linked])
    return order, size[size > 0]


def _join(chains: list[IntArray], points: FloatArray) -> list[IntArray]:
    """Chains joined end to end over gaps and crossings, where both ends point at each other; the best pairs first."""
    if len(chains) < 2:
        return chains
    reach = 6
    tips = points[np.array([(c[0], c[-1]) for c in chains]).ravel()]
    out = tips - points[np.array([(c[: reach + 1][-1], c[-reach - 1 :][0]) for c in chains]).ravel()]
    out /= np.maximum(np.hypot(*out.T), 1e-9)[:, None]
    first, second, far = _near_tips(tips, np.array([len(c) for c in chains]))
    step = (tips[second] - tips[first]) / np.maximum(far, 1e-9)[:, None]
    bend = setting("damage", "gap_cosine")
    straight = ((out[first] * step).sum(1) > bend) & (-(out[second] * step).sum(1) > bend)
    fits = (straight | (far < 2.5)) & (-(out[first] * out[second]).sum(1) > bend)
    order = np.argsort(far[fits])
    partner = np.full(len(tips), -1)
    for a, b in zip(first[fits][order].tolist(), second[fits][order].tolist(), strict=True):
        if partner[a] < 0 and partner[b] < 0:
            partner[a], partner[b] = b, a
    return _stitch(chains, partner)


def _near_tips(tips: FloatArray, sizes: IntArray) -> tuple[IntArray, IntArray, FloatArray]:
    """Pairs of tips of different chains, two of each, across whose gap they may be joined, and how far apart they lie.

    Args:
        sizes: points of each chain; a short one reaches less far.
    """
    reach, order = setting("damage", "gap_px"), np.argsort(tips[:, 0])
    count = np.searchsorted(tips[order, 0], tips[order, 0] + reach) - np.arange(len(tips)) - 1
    place = np.repeat(np.arange(len(tips)), count)
    later = place + 1 + np.arange(len(place)) - np.repeat(np.cumsum(count) - count, count)
    pair = order[[place, later]]
    own = np.arange(len(tips)) // 2
    first, second = pair.min(axis=0), pair.max(axis=0)
    near = np.flatnonzero((own[first] < own[second]) & (np.abs(tips[second, 1] - tips[first, 1]) < reach))
    first, second = first[near], second[near]
    far = np.hypot(*(tips[second] - tips[first]).T)
    near = far < np.minimum(reach, 0.5 * np.minimum(sizes[own[first]], sizes[own[second]]) + 3)
    return first[near], second[near], far[near]


def _stitch(chains: list[IntArray], partner: IntArray) -> list[IntArray]:
    done = [False] * len(chains)
    joined = []
    starts = [t for t in range(len(partner)) if partner[t] < 0] + list(range(len(partner)))
    for tip in starts:
        if done[tip // 2]:
            continue
        run, here = [], tip
        while here >= 0 and not done[here // 2]:
            chain = chains[here // 2]
            done[here // 2] = True
            run.append(chain if here % 2 == 0 else chain[::-1])
            here = int(partner[here ^ 1])
        joined.append(np.concatenate(run) if len(run) > 1 else run[0])
    return joined
