"""A centre line's shape, and its width where the picture shows it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.damage.trace import Trace
from discscan.records import FlatDisc, FloatArray, Reading

_STEP_MM = 0.2
_ASIDE_MM = np.arange(-12, 13) / 10.0
_MOST_POINTS = 30000
"""OpenCV's remap takes fewer than 32768 rows."""


@dataclass(frozen=True)
class Line:
    """One line as it lies on the disc.

    Attributes:
        points_mm: float64 (n, 2), every 0.2 mm, smoothed.
        length_mm: along them.
        probability: mean of the map along the line.
        width_mm: with its standard uncertainty.
        width_is_bound: below two pixels blur hides the width: then it is a bound from contrast.
        radius_mm: mean distance from the disc's centre.
        radius_spread_mm: rms of that distance.
        arc_deg: turn about the disc's centre.
    """

    points_mm: FloatArray
    length_mm: float
    probability: float
    width_mm: Reading
    width_is_bound: bool
    radius_mm: float
    radius_spread_mm: float
    arc_deg: float


def measured(traces: list[Trace], flat: FlatDisc) -> list[Line]:
    """Measure each trace on the flat disc."""
    if not traces:
        return []
    lines = [_even(trace.points_mm) for trace in traces]
    profiles = _profiles(np.concatenate(lines), np.concatenate([_ways(points) for points in lines]), flat)
    starts = np.cumsum([0, *(len(points) for points in lines)])
    # one pixel of the photograph or one cell of the flat grid, whichever is larger
    px_mm = max(1 / flat.photo_px_per_mm, 1 / flat.px_per_mm)
    return [
        _line(points, float(trace.probability.mean()), profiles[a:b], px_mm)
        for points, trace, a, b in zip(lines, traces, starts[:-1], starts[1:], strict=True)
    ]


def _profiles(points: FloatArray, ways: FloatArray, flat: FlatDisc) -> NDArray[np.float32]:
    """Grey levels across lines, float32 (n, 25), a tenth of a millimetre apart."""
    normals = np.stack([-ways[:, 1], ways[:, 0]], -1)
    places = (points[:, None] + normals[:, None] * _ASIDE_MM[None, :, None]) * flat.px_per_mm + flat.bgr.shape[0] / 2
    columns, rows = (np.ascontiguousarray(places[..., i], np.float32) for i in (0, 1))
    grey = cv2.cvtColor(flat.bgr, cv2.COLOR_BGR2GRAY)
    pieces = [
        cv2.remap(
            grey,
            columns[a : a + _MOST_POINTS],
            rows[a : a + _MOST_POINTS],
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        for a in range(0, len(columns), _MOST_POINTS)
    ]
    return np.concatenate(pieces).astype(np.float32)


def _even(points: FloatArray) -> FloatArray:
    """Points every 0.2 mm, smoothed over 1 mm with the ends kept."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    at = np.linspace(0, along[-1], max(3, round(along[-1] / _STEP_MM) + 1))
    points = np.stack([np.interp(at, along, points[:, i]) for i in (0, 1)], -1)
    reach = min(2, (len(points) - 1) // 2)
    padded = np.concatenate(
        [2 * points[:1] - points[reach:0:-1], points, 2 * points[-1:] - points[-2 : -reach - 2 : -1]]
    )
    kernel = np.ones(2 * reach + 1) / (2 * reach + 1)
    return np.stack([np.convolve(padded[:, i], kernel, "valid") for i in (0, 1)], -1)


def _ways(points: FloatArray) -> FloatArray:
    way = np.gradient(points, axis=0)
    return np.asarray(way / np.maximum(np.hypot(*way.T), 1e-9)[:, None])


def _line(points: FloatArray, probability: float, profiles: NDArray[np.float32], px_mm: float) -> Line:
    radius = np.hypot(*points.T)
    angle = np.unwrap(np.arctan2(points[:, 1], points[:, 0]))
    width, bound = _width(profiles, px_mm)
    return Line(
        points_mm=points,
        length_mm=float(np.hypot(*np.diff(points, axis=0).T).sum()),
        probability=probability,
        width_mm=width,
        width_is_bound=bound,
        radius_mm=float(radius.mean()),
        radius_spread_mm=float(radius.std()),
        arc_deg=float(min(np.degrees(np.ptp(angle)), 360.0)),
    )


def _width(profiles: NDArray[np.float32], px_mm: float) -> tuple[Reading, bool]:
    """Width of a line from its mean profile, each place turned so that the line is bright.

    Widths of a box and of a Gaussian blur add in squares; a sharp photo blurs by about a pixel and a half. What is left
    below two pixels is blur as much as line: a bound.
    """
    middle = profiles[:, 10:15].mean(axis=1) - (profiles[:, 2:7].mean(axis=1) + profiles[:, 18:23].mean(axis=1)) / 2
    seen_mm = _full_width((profiles * np.sign(middle)[:, None]).mean(axis=0))
    blur_mm = setting("damage", "blur_px") * px_mm
    width_mm = float(np.sqrt(max(seen_mm**2 - blur_mm**2, (0.3 * px_mm) ** 2)))
    bound = width_mm < 2 * px_mm
    return Reading(width_mm, (0.5 if bound else 0.3) * px_mm), bound


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
