"""What a photograph would show of such a disc: some lines missed, some false, no depth, rough widths."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from calibration.fit.discs import Groove, Patch, TrueDisc
from calibration.fit.numbers import number
from discscan.records import DamageSurvey, Defect, FloatArray, Kind, Reading

LEAST_LINE_MM = 2.0


def survey_of(rng: np.random.Generator, disc: TrueDisc) -> DamageSurvey:
    """The survey of one photograph."""
    seen = 1 - (1 - number("search.seen_least")) * rng.random() ** 3
    found: list[Defect] = []
    for groove in disc.grooves:
        found += _lines(rng, groove)
    found += [_area(patch) for patch in disc.patches if _noticed(rng, patch)]
    expected = number("search.false_lines") * len(found) + number("search.false_on_clean")
    found += [_false_line(rng) for _ in range(rng.poisson(expected))]
    kept = [defect for defect in found if rng.random() < seen]
    return DamageSurvey(tuple(kept), 0.0, seen)


def _noticed(rng: np.random.Generator, patch: Patch) -> bool:
    return patch.kind == "smudge" or rng.random() < number("search.layer_recall")


def _lines(rng: np.random.Generator, groove: Groove) -> list[Defect]:
    """Its pieces between skips, as far as they are found."""
    lines = []
    for points, width in pieces(groove):
        if groove.kind == "crack":
            recall = number("search.crack_recall")
        else:
            recall = number("search.recall" if width >= 80 else "search.recall_fine")
        if rng.random() > recall:
            continue
        parts = [points]
        if rng.random() < number("search.break_chance") and len(points) > 12:
            at = int(rng.integers(4, len(points) - 4))
            parts = [points[: at - 1], points[at + 1 :]]
        sure = _sure(rng, "right")
        lines += [_line(rng, groove.kind, part, width, sure) for part in parts if length_mm(part) >= LEAST_LINE_MM]
    return lines


def _line(rng: np.random.Generator, kind: Kind, points: FloatArray, width_um: float, sure: float) -> Defect:
    low, high = number("search.width_seen_low_um"), number("search.width_seen_high_um")
    seen = max(width_um, float(np.exp(rng.uniform(np.log(low), np.log(high)))))
    radius, theta = np.hypot(*points.T), np.unwrap(np.arctan2(points[:, 1], points[:, 0]))
    return Defect(
        kind=kind,
        outline_mm=points,
        length_mm=Reading(length_mm(points), 0.3),
        width_um=Reading(seen, 0.2 * seen),
        width_is_bound=True,
        area_mm2=None,
        radius_min_mm=float(radius.min()),
        radius_max_mm=float(radius.max()),
        arc_deg=float(min(360.0, np.degrees(np.ptp(theta)))),
        confidence=sure,
    )


def _area(patch: Patch) -> Defect:
    radius = np.hypot(*patch.border_mm.T)
    return Defect(
        kind=patch.kind,
        outline_mm=patch.border_mm,
        length_mm=None,
        width_um=None,
        width_is_bound=False,
        area_mm2=Reading(30.0, 9.0),
        radius_min_mm=float(radius.min()),
        radius_max_mm=float(radius.max()),
        arc_deg=10.0,
        confidence=0.9,
    )


def _false_line(rng: np.random.Generator) -> Defect:
    radius, place, way = rng.uniform(25, 57), rng.uniform(0, 2 * np.pi), rng.uniform(0, np.pi)
    along = np.linspace(-0.5, 0.5, 12)[:, None] * (2 + rng.exponential(6)) * np.array([np.cos(way), np.sin(way)])
    points = radius * np.array([np.cos(place), np.sin(place)]) + along
    return _line(rng, "scratch", points, float(rng.uniform(40, 150)), _sure(rng, "wrong"))


def _sure(rng: np.random.Generator, line: str) -> float:
    """The confidence of a "right" or a "wrong" line: beta distributed, of the mean and spread that they have."""
    mean, spread = number(f"search.sure_{line}"), number(f"search.sure_{line}_spread")
    size = mean * (1 - mean) / spread**2 - 1
    return float(rng.beta(mean * size, (1 - mean) * size))


def pieces(groove: Groove) -> Iterator[tuple[FloatArray, float]]:
    """The pieces between its skips that are long enough to be told, (n, 2), and their mean width in um."""
    edges = np.flatnonzero(np.diff(groove.width_um > 0, prepend=False, append=False)).reshape(-1, 2)
    for first, last in edges:
        points = groove.points_mm[first:last]
        if len(points) > 2 and length_mm(points) >= LEAST_LINE_MM:
            yield points, float(groove.width_um[first:last].mean())


def length_mm(points: FloatArray) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())
