"""What the picture shows along a centre line: contrast against both sides, width, and where the line runs."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.damage.trace import Trace
from discscan.records import FlatDisc, FloatArray

_STEP_MM = 0.2
_ASIDE_MM = np.arange(-12, 13) / 10.0
_BANDS = (
    slice(11, 14),
    slice(5, 9),
    slice(16, 20),
)  # its middle; 0.4 to 0.7 mm to its left, to its right
_AVERAGED = 9  # points of 0.2 mm: what one place of a line is compared over


@dataclass(frozen=True)
class LineLook:
    """One trace as the picture shows it.

    Attributes:
        points_mm: float64 (n, 2), every 0.2 mm, smoothed.
        length_mm: along them.
        probability: mean of the map along the line.
        colour: of what it adds to or takes from its sides, 0 grey to 1 pure, median along the line.
        tint: the same of the line itself; on burnt ground what is added has a colour, and the line none.
        contrast: grey levels by which it stands out from the nearer of its two sides, mean of the absolute value.
        width_mm: full width at half maximum, blur included.
        bend_per_mm: curvature of the best circle, 1 / radius.
        radius_mm: mean distance from the disc's centre.
        radius_spread_mm: rms of that distance.
        misses_centre_mm: how far the chord's extension passes from the disc's centre.
        arc_deg: turn about the disc's centre.
    """

    points_mm: FloatArray
    length_mm: float
    probability: float
    colour: float
    tint: float
    contrast: float
    width_mm: float
    bend_per_mm: float
    radius_mm: float
    radius_spread_mm: float
    misses_centre_mm: float
    arc_deg: float


def look_at(traces: list[Trace], flat: FlatDisc) -> list[LineLook]:
    """Measure each trace on the flat disc."""
    if not traces:
        return []
    lines = [_even(trace) for trace in traces]
    points = np.concatenate([points for points, _ in lines])
    ways = np.concatenate([_ways(points) for points, _ in lines])
    normals = np.stack([-ways[:, 1], ways[:, 0]], -1)
    places = (points[:, None] + normals[:, None] * _ASIDE_MM[None, :, None]) * flat.px_per_mm + flat.bgr.shape[0] / 2
    columns, rows = (np.ascontiguousarray(places[..., i], np.float32) for i in (0, 1))
    profiles = _remap(flat.bgr, columns, rows)
    starts = np.cumsum([0, *(len(points) for points, _ in lines)])
    return [
        _look(points, probability, profiles[a:b])
        for (points, probability), a, b in zip(lines, starts[:-1], starts[1:], strict=True)
    ]


def _remap(bgr: NDArray[np.uint8], columns: NDArray[np.float32], rows: NDArray[np.float32]) -> NDArray[np.float32]:
    """Bilinear samples, float32 (n, offsets, 3), in pieces that OpenCV's remap takes (below 32768 rows)."""
    pieces = [
        cv2.remap(bgr, columns[a : a + 30000], rows[a : a + 30000], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        for a in range(0, len(columns), 30000)
    ]
    return np.concatenate(pieces).astype(np.float32)


def _even(trace: Trace) -> tuple[FloatArray, float]:
    """Points every 0.2 mm, smoothed over 1 mm with the ends kept, and the mean probability."""
    steps = np.hypot(*np.diff(trace.points_mm, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    at = np.linspace(0, along[-1], max(3, round(along[-1] / _STEP_MM) + 1))
    points = np.stack([np.interp(at, along, trace.points_mm[:, i]) for i in (0, 1)], -1)
    reach = min(2, (len(points) - 1) // 2)
    padded = np.concatenate(
        [2 * points[:1] - points[reach:0:-1], points, 2 * points[-1:] - points[-2 : -reach - 2 : -1]]
    )
    kernel = np.ones(2 * reach + 1) / (2 * reach + 1)
    smooth = np.stack([np.convolve(padded[:, i], kernel, "valid") for i in (0, 1)], -1)
    return smooth, float(trace.probability.mean())


def _ways(points: FloatArray) -> FloatArray:
    way = np.gradient(points, axis=0)
    return np.asarray(way / np.maximum(np.hypot(*way.T), 1e-9)[:, None])


def _run_mean(values: NDArray[np.float32]) -> NDArray[np.float32]:
    size = min(_AVERAGED, len(values))
    return np.asarray(cv2.blur(values, (1, size), borderType=cv2.BORDER_REPLICATE), np.float32)


def _look(points: FloatArray, probability: float, profiles: NDArray[np.float32]) -> LineLook:
    grey = profiles @ np.array([0.114, 0.587, 0.299], np.float32)
    bands = _run_mean(np.stack([grey[:, part].mean(axis=1) for part in _BANDS], -1))
    middle, left, right = bands.T
    over, under = middle - np.maximum(left, right), np.minimum(left, right) - middle
    sign = np.where(over > 0, 1.0, np.where(under > 0, -1.0, 0.0))
    radius = np.hypot(*points.T)
    angle = np.unwrap(np.arctan2(points[:, 1], points[:, 0]))
    chord, middle = points[-1] - points[0], points.mean(axis=0)
    colour, tint = _colours(profiles)
    chord = chord / max(float(np.hypot(*chord)), 1e-9)
    return LineLook(
        points_mm=points,
        length_mm=float(np.hypot(*np.diff(points, axis=0).T).sum()),
        probability=probability,
        colour=colour,
        tint=tint,
        contrast=float(np.maximum(np.maximum(over, under), 0).mean()),
        width_mm=_full_width((grey * sign[:, None]).mean(axis=0)),
        bend_per_mm=_bend(points),
        radius_mm=float(radius.mean()),
        radius_spread_mm=float(radius.std()),
        misses_centre_mm=abs(float(middle[0] * chord[1] - middle[1] * chord[0])),
        arc_deg=float(np.degrees(np.ptp(angle))),
    )


def _colours(profiles: NDArray[np.float32]) -> tuple[float, float]:
    """Of what a line adds to its sides, and of itself, 2 mm at a time; a few levels are nobody's colour."""
    bands = _run_mean(np.concatenate([profiles[:, part].mean(axis=1) for part in _BANDS], axis=1))
    middle, left, right = bands[:, :3], bands[:, 3:6], bands[:, 6:]
    levels = np.stack([middle - (left + right) / 2, middle])
    pure = np.ptp(levels, axis=2) / np.maximum(np.abs(levels).max(axis=2), 3.0)
    added, own = np.median(pure, axis=1).tolist()
    return added, own


def _full_width(shape: NDArray[np.float32]) -> float:
    """Full width at half maximum of a mean profile over the straight ground between its ends, mm."""
    ends = np.array([2, 3, 4]), np.array([20, 21, 22])
    ground = np.interp(np.arange(25), [3, 21], [shape[part].mean() for part in ends])
    rise = shape - ground
    top = int(10 + rise[10:15].argmax())
    half = rise[top] / 2
    if half <= 0:
        return 0.0
    width = 0.0
    for step in (1, -1):
        at = top
        while 0 < at < 24 and rise[at] > half:
            at += step
        before = rise[at - step]
        width += abs(at - top) - (half - rise[at]) / max(before - rise[at], 1e-6) if rise[at] <= half else abs(at - top)
    return width / 10


def _bend(points: FloatArray) -> float:
    """Curvature of the best parabola along the chord's own axis, per mm; 0 for a straight line."""
    moved = points - points.mean(axis=0)
    across, along = np.linalg.eigh(moved.T @ moved)[1].T
    u, v = moved @ along, moved @ across
    powers = np.stack([np.ones_like(u), u, u * u])
    _, slope, half_bend = np.linalg.lstsq(powers @ powers.T, powers @ v)[0]
    return float(2 * abs(half_bend) / (1 + slope**2) ** 1.5)
