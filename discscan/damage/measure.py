"""What the picture shows along a centre line: contrast against both sides, width, and where the line runs."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.damage.trace import Trace
from discscan.polylines import IntArray, Polylines, resampled
from discscan.records import FlatDisc, FloatArray

_STEP_MM = 0.2
_ASIDE_MM = np.arange(-12, 13) / 10.0
_BANDS = (range(11, 14), range(5, 9), range(16, 20))
"""Of the places aside: the line itself, to 0.1 mm, and its ground on either side, 0.4 to 0.7 mm away."""
_ENDS = (slice(2, 5), slice(20, 23))
"""And of a whole line's mean profile, 0.8 to 1 mm away: its ground, about places 3 and 21."""
_AVERAGED = 9  # points of 0.2 mm: what one place of a line is compared over
_WITH_GREY = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0.114, 0.587, 0.299]], np.float32)


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
        straight_spread_mm: rms distance from the best straight line.
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
    straight_spread_mm: float
    misses_centre_mm: float
    arc_deg: float


def look_at(traces: list[Trace], flat: FlatDisc) -> list[LineLook]:
    """Measure each trace on the flat disc."""
    if not traces:
        return []
    lines = _smooth(resampled([trace.points_mm for trace in traces], step=_STEP_MM, at_least=3))
    profiles = _profiles(lines, flat)
    bands = _run_means(lines, np.stack([sum(profiles[:, k] for k in part) / len(part) for part in _BANDS], 1))
    bands = np.ascontiguousarray(bands.transpose(1, 2, 0))  # each level of each band by itself
    own, *sides = bands[:, :3]
    middle, left, right = bands[:, 3]
    over, under = middle - np.maximum(left, right), np.minimum(left, right) - middle
    sign = np.where(over > 0, np.float32(1), np.where(under > 0, np.float32(-1), np.float32(0)))
    looks = {
        "length_mm": lines.length,
        "colour": _colour(lines, own - (sides[0] + sides[1]) / 2),
        "tint": _colour(lines, own),
        "contrast": lines.means(np.maximum(np.maximum(over, under), 0)),
        "width_mm": _full_width(lines.means(profiles[..., 3] * sign[:, None])),
        "bend_per_mm": _bend(lines),
        "straight_spread_mm": lines.spreads(lines.straightened[1]),
        **_about_the_centre(lines),
    }
    points = lines.split(lines.points)
    return [
        LineLook(points[k], probability=float(trace.probability.mean()), **{n: float(v[k]) for n, v in looks.items()})
        for k, trace in enumerate(traces)
    ]


def moved(look: LineLook, by_mm: FloatArray) -> LineLook:
    """The same line elsewhere on the disc, (2,) mm away: where it runs about the centre is measured anew."""
    line = Polylines.of([look.points_mm + by_mm])
    return replace(look, points_mm=line.points, **{n: float(v[0]) for n, v in _about_the_centre(line).items()})


def _about_the_centre(lines: Polylines) -> dict[str, FloatArray]:
    """What of a `LineLook` depends on where the disc's centre lies, each (k,)."""
    radius = np.hypot(*lines.points.T)
    return {
        "radius_mm": lines.means(radius),
        "radius_spread_mm": lines.spreads(radius),
        "misses_centre_mm": _misses_centre(lines),
        "arc_deg": np.degrees(lines.most(lines.angle) + lines.most(-lines.angle)),
    }


def _smooth(lines: Polylines) -> Polylines:
    """Means over 1 mm, mirrored at the ends, which so stay where they are. Lines have three points or more."""
    reach = np.minimum(2, (lines.size - 1) // 2)[lines.owner]
    total = np.zeros_like(lines.points)
    for shift in range(-2, 3):
        end = lines.beside(shift)
        beyond = 2 * end - np.arange(len(end)) - shift
        total += np.where(abs(shift) <= reach, (2 * lines.points[end] - lines.points[beyond]).T, 0).T
    return Polylines(total / (2 * reach + 1)[:, None], lines.size)


def _profiles(lines: Polylines, flat: FlatDisc) -> NDArray[np.float32]:
    """Colours and grey level across each point of the lines, float32 (n, places aside, 4)."""
    way = lines.points[lines.beside(1)] - lines.points[lines.beside(-1)]
    way /= np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    columns, rows = (
        ((lines.points[:, k, None] + across[:, None] * _ASIDE_MM) * flat.px_per_mm + flat.bgr.shape[0] / 2).astype(
            np.float32
        )
        for k, across in enumerate((-way[:, 1], way[:, 0]))
    )
    pieces = [  # OpenCV's remap takes less than 32768 rows
        cv2.remap(
            flat.bgr, columns[a : a + 30000], rows[a : a + 30000], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        for a in range(0, len(columns), 30000)
    ]
    return np.asarray(cv2.transform(np.concatenate(pieces).astype(np.float32), _WITH_GREY), np.float32)


def _run_means(lines: Polylines, values: NDArray[np.float32]) -> NDArray[np.float32]:
    """Means along each line over `_AVERAGED` points, 2 mm, of values (n, ...)."""
    flat = values.reshape(len(values), -1)
    pieces = [
        cv2.blur(piece, (1, min(_AVERAGED, len(piece))), borderType=cv2.BORDER_REPLICATE) for piece in lines.split(flat)
    ]
    return np.asarray(np.concatenate(pieces).reshape(values.shape), np.float32)


def _colour(lines: Polylines, levels: NDArray[np.float32]) -> FloatArray:
    """Of levels (3, n), 0 grey to 1 pure, median along each line; a few levels are nobody's colour."""
    return lines.medians(np.ptp(levels, axis=0) / np.maximum(np.abs(levels).max(axis=0), 3.0))


def _full_width(shapes: FloatArray) -> FloatArray:
    """Full width at half maximum of mean profiles (k, places aside) over the ground between their ends, mm."""
    first, last = (shapes[:, part].mean(axis=1, keepdims=True) for part in _ENDS)
    rise = shapes - first - (last - first) * np.clip((np.arange(len(_ASIDE_MM)) - 3) / 18, 0, 1)
    top = 10 + rise[:, 10:15].argmax(axis=1)  # within 0.2 mm of the line
    places = _fall(rise, top) + _fall(rise[:, ::-1], len(_ASIDE_MM) - 1 - top)
    return np.where(rise[np.arange(len(top)), top] > 0, places / 10, 0.0)


def _fall(rise: FloatArray, top: IntArray) -> FloatArray:
    """How many places (k,) after its top each row has fallen to half of it; all there are where it never does."""
    row, place = np.arange(len(rise)), np.arange(rise.shape[1])
    half = rise[row, top] / 2
    at = ((place > top[:, None]) & ((rise <= half[:, None]) | (place == place[-1]))).argmax(axis=1)
    here, before = rise[row, at], rise[row, at - 1]
    return np.asarray(at - top - np.where(here <= half, (half - here) / np.maximum(before - here, 1e-6), 0))


def _bend(lines: Polylines) -> FloatArray:
    """Curvature of the best parabola over each best straight line, per mm; 0 for a straight line."""
    u, v = lines.straightened
    # normal equations of v = a + b u + c u^2, whose sums of u and of v vanish
    uu, uuu, uv = (lines.sums(values) for values in (u * u, u * u * u, u * v))
    uu = np.maximum(uu, 1e-12)
    over = lines.sums(u**4) - uu**2 / lines.size - uuu**2 / uu
    half_bend = (lines.sums(u * u * v) - uuu / uu * uv) / np.maximum(over, 1e-12)
    slope = (uv - half_bend * uuu) / uu
    return np.asarray(2 * np.abs(half_bend) / (1 + slope**2) ** 1.5)


def _misses_centre(lines: Polylines) -> FloatArray:
    """How far each chord's extension passes from the origin."""
    chord = lines.points[lines.first + lines.size - 1] - lines.points[lines.first]
    middle = lines.means(lines.points)
    aside = middle[:, 0] * chord[:, 1] - middle[:, 1] * chord[:, 0]
    return np.asarray(np.abs(aside) / np.maximum(np.hypot(*chord.T), 1e-9))
