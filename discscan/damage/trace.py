"""From a probability map of lines to centre lines: crests, their points joined to chains, chains joined over gaps.

Knows nothing of how the map was made, nor what the lines are.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.records import FloatArray

FloatImage = NDArray[np.float32]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Trace:
    """A centre line, float64 (n, 2) in mm from the disc's centre, and the map's probability at each point."""

    points_mm: FloatArray
    probability: FloatArray

    @cached_property
    def length_mm(self) -> float:
        return float(np.hypot(*np.diff(self.points_mm, axis=0).T).sum())

    def between(self, first: int, last: int) -> Trace:
        """Its piece from one point to before another."""
        return Trace(self.points_mm[first:last], self.probability[first:last])

    def within(self, low_mm: float, high_mm: float) -> list[Trace]:
        """Its pieces between two radii."""
        radius = np.hypot(*self.points_mm.T)
        inside = ((radius >= low_mm) & (radius <= high_mm)).astype(np.int8)
        edges = np.flatnonzero(np.diff(inside, prepend=0, append=0))
        ends = zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
        return [self.between(a, b) for a, b in ends if b - a > 1]


def trace_lines(line: FloatImage, *, px_per_mm: float, low: float, high: float) -> list[Trace]:
    """Centre lines in a probability map, float32 (side, side), at half of the flat grid's scale.

    By hysteresis: a chain may run on `low`, where it reaches `high` somewhere.
    """
    points, ways, values = _crest(line, low)
    if len(points) == 0:
        return []
    chains = _chains(points, ways, line.shape)
    low_mm = setting("damage", "least_trace_mm")
    strong = [c for c in chains if values[c].max() >= high and len(c) >= 2]
    strong.sort(key=lambda c: -float(values[c].sum()))
    joined = _join(strong[: int(setting("damage", "most_pieces"))], points, values)
    middle = line.shape[0] / 2
    # a cell of the map holds two of the flat grid: its middle lies a quarter of a cell beyond the first one's
    traces = [Trace((points[c] + 0.25 - middle) / px_per_mm, values[c]) for c in joined]
    return [t for t in traces if t.length_mm >= low_mm]


def means_along(traces: list[Trace], level: FloatImage, *, px_per_mm: float) -> list[float]:
    """Mean of another map of the same scale along each line, its largest value within a cell counting."""
    if not traces:
        return []
    grown = cv2.dilate(level, np.ones((3, 3), np.uint8))
    means = []
    for trace in traces:
        places = np.round(trace.points_mm * px_per_mm + level.shape[0] / 2 - 0.25).astype(int)
        columns, rows = np.clip(places, 0, level.shape[0] - 1).T
        means.append(float(grown[rows, columns].mean()))
    return means


def _crest(line: FloatImage, low: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Points (n, 2) where the map is highest across its own ridge, sub-pixel, with unit directions and values.

    Steger's criterion (An unbiased detector of curvilinear structures, 1998): the second-order Taylor polynomial across
    the ridge has its maximum within the pixel.
    """
    smooth = cv2.GaussianBlur(line, (0, 0), setting("damage", "crest_blur_px"))
    rows, columns = np.divmod(np.flatnonzero(smooth >= low), line.shape[1])
    edge = (rows > 0) & (columns > 0) & (rows < line.shape[0] - 1) & (columns < line.shape[1] - 1)
    rows, columns = rows[edge], columns[edge]

    def at(dy: int, dx: int) -> FloatArray:
        return np.asarray(smooth[rows + dy, columns + dx], np.float64)

    middle = at(0, 0)
    right, left, below, above = at(0, 1), at(0, -1), at(1, 0), at(-1, 0)
    gx, gy = (right - left) / 2, (below - above) / 2
    xx, yy = right + left - 2 * middle, below + above - 2 * middle
    xy = (at(1, 1) + at(-1, -1) - at(1, -1) - at(-1, 1)) / 4
    half, root = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
    across = 0.5 * np.arctan2(2 * xy, xx - yy) + np.pi / 2  # of the most negative curvature
    curve = half - root
    nx, ny = np.cos(across), np.sin(across)
    shift = -(gx * nx + gy * ny) / np.minimum(curve, -1e-9)
    crest = (curve < 0) & (np.abs(shift * nx) <= 0.6) & (np.abs(shift * ny) <= 0.6)
    points = np.stack([columns + shift * nx, rows + shift * ny], -1)[crest]
    ways = np.stack([-ny, nx], -1)[crest]
    return points, ways, middle[crest]


def _chains(points: FloatArray, ways: FloatArray, shape: tuple[int, ...]) -> list[IntArray]:
    """Indices of points joined to runs: each to the best ahead and the best behind, where both agree."""
    count = len(points)
    cell = np.full((shape[0] + 4, shape[1] + 4), -1, np.int32)
    column, row = (np.clip(np.round(points[:, i]).astype(int), 0, shape[1 - i] - 1) + 2 for i in (0, 1))
    cell[row, column] = np.arange(count)
    (x, y), (way_x, way_y) = (np.ascontiguousarray(pairs.T) for pairs in (points, ways))
    everyone = np.arange(count)
    down, aside = (around.ravel()[:, None] for around in np.mgrid[-2:3, -2:3])
    near = cell[row + down, column + aside]
    place, mine = np.nonzero((near >= 0) & (near != everyone))
    other = near[place, mine]
    dx_px, dy_px = x[other] - x[mine], y[other] - y[mine]
    along = dx_px * way_x[mine] + dy_px * way_y[mine]
    off = np.abs(dx_px * way_y[mine] - dy_px * way_x[mine])
    turn = np.abs(way_x[mine] * way_x[other] + way_y[mine] * way_y[other])
    fits = (turn > 0.85) & (off < 0.5 * np.abs(along) + 0.35)
    cost = np.abs(along) + 2 * off + 4 * (1 - turn)
    mate = np.full((2, count), -1, np.int64)
    for side, ahead in enumerate((along > 0.3, along < -0.3)):
        costs = np.full(near.shape, np.inf)
        costs[place, mine] = np.where(fits & ahead, cost, np.inf)
        best = costs.argmin(axis=0)
        mate[side] = np.where(np.isfinite(costs[best, everyone]), near[best, everyone], -1)
    # a pair counts when each chose the other, whichever way each one points
    links = np.full((count, 2), -1, np.int64)
    for side in (0, 1):
        has = mate[side] >= 0
        chosen = mate[side, has]
        agreed = (mate[0, chosen] == everyone[has]) | (mate[1, chosen] == everyone[has])
        links[everyone[has][agreed], side] = chosen[agreed]
    return _walk(links)


def _walk(links: IntArray) -> list[IntArray]:
    """Runs of linked points, each point once."""
    table, (none, none_back) = links.tolist(), (links < 0).T
    seen = bytearray((none & none_back).tobytes())  # those that are alone stay out
    ends = np.flatnonzero(none != none_back).tolist()
    chains = []
    for start in [*ends, *range(len(table))]:  # what is left after the ends are loops
        if seen[start]:
            continue
        run, here = [], start
        while here >= 0 and not seen[here]:
            seen[here] = 1
            run.append(here)
            first, second = table[here]
            here = first if first >= 0 and not seen[first] else second
        chains.append(np.array(run))
    return chains


def _join(chains: list[IntArray], points: FloatArray, values: FloatArray) -> list[IntArray]:
    """Chains joined end to end over gaps and crossings, where both ends point at each other; the best pairs first."""
    if len(chains) < 2:
        return chains
    reach = 6
    tips = np.array([p for c in chains for p in (points[c[0]], points[c[-1]])])
    out = np.array(
        [
            w
            for c in chains
            for w in (points[c[0]] - points[c[: reach + 1][-1]], points[c[-1]] - points[c[-reach - 1 :][0]])
        ]
    )
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
    reach, own = setting("damage", "gap_px"), np.arange(len(tips)) // 2
    beside = [np.abs(tips[:, None, axis] - tips[None, :, axis]) < reach for axis in (0, 1)]
    first, second = np.nonzero(beside[0] & beside[1] & (own[:, None] < own[None]))
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
        joined.append(np.concatenate(run))
    return joined
