"""Surveys that lie over one another as one: each mark once, surer where seen again, less sure where it was not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from discscan.calibration import limit, setting
from discscan.records import LINE_KINDS, ByteImage, Defect, FloatArray, Sight

_AREA_PX_PER_MM = 4.0


@dataclass(frozen=True)
class View:
    """What one photograph shows, in the plane that all share.

    Attributes:
        sight: uint8 (side, side) of `Sight`.
        px_per_mm: of `sight`.
    """

    defects: tuple[Defect, ...]
    sight: ByteImage
    px_per_mm: float


def fused(views: Sequence[View]) -> list[Defect]:
    """The defects of all views, each once, the gravest kinds first, then the largest.

    So a piece goes with the whole, and a crack in one view is not lost on another that takes it for a scratch.

    Dust comes and goes between photographs: that of the first view counts.
    """
    ranked = sorted(
        (
            (defect, number)
            for number, view in enumerate(views)
            for defect in view.defects
            if number == 0 or defect.kind != "dust"
        ),
        key=lambda one: _rank(one[0]),
    )
    kept: list[tuple[Defect, set[int], Defect]] = []
    for defect, number in ranked:
        at = next((k for k, (other, _, _) in enumerate(kept) if alike(defect, other)), None)
        if at is None:
            kept.append((defect, {number}, defect))
        else:
            place, by, best = kept[at]
            place = replace(place, confidence=max(place.confidence, defect.confidence))
            kept[at] = place, by | {number}, _better_measured(best, defect)
    return [_held_against(_with_width(place, best), by, views) for place, by, best in kept]


def alike(defect: Defect, other: Defect) -> bool:
    """Whether most of a defect lies on another one: two looks at one mark, or a piece of it."""
    line, other_line = defect.kind in LINE_KINDS, other.kind in LINE_KINDS
    if line != other_line or (not line and defect.kind != other.kind):
        return False
    if line:
        return covered_share(defect.outline_mm, other.outline_mm) >= setting("match", "twin_share")
    return _overlap(defect.outline_mm, other.outline_mm) >= setting("match", "twin_share")


def covered_share(points: FloatArray, other: FloatArray) -> float:
    """Share of a line's points that lie on another line, as near as two poses agree."""
    near = setting("match", "twin_apart_mm")
    low, high = other.min(axis=0) - near, other.max(axis=0) + near
    inside = points[((points >= low) & (points <= high)).all(axis=1)]
    if not len(inside):
        return 0.0
    apart = np.hypot(inside[:, None, 0] - other[None, :, 0], inside[:, None, 1] - other[None, :, 1]).min(axis=1)
    return float(np.count_nonzero(apart <= near) / len(points))


def seen_share(points: FloatArray, view: View) -> float:
    """Share of points that a view saw."""
    at = np.round(points * view.px_per_mm + view.sight.shape[0] / 2).astype(int)
    at = np.clip(at, 0, view.sight.shape[0] - 1)
    return float((view.sight[at[:, 1], at[:, 0]] == Sight.SEEN).mean())


def _overlap(border: FloatArray, other: FloatArray) -> float:
    """Share of the smaller of two areas that the other one covers, as near as two poses agree."""
    near = setting("match", "twin_apart_mm")
    low = np.minimum(border.min(axis=0), other.min(axis=0)) - near
    high = np.maximum(border.max(axis=0), other.max(axis=0)) + near
    if (border.min(axis=0) > other.max(axis=0) + near).any() or (other.min(axis=0) > border.max(axis=0) + near).any():
        return 0.0
    size = np.ceil((high - low) * _AREA_PX_PER_MM).astype(int) + 3
    masks = []
    for outline in (border, other):
        mask = np.zeros((size[1], size[0]), np.uint8)
        cv2.fillPoly(mask, [np.round((outline - low) * _AREA_PX_PER_MM + 1).astype(np.int32)], 1)
        masks.append(mask)
    smaller, larger = sorted(masks, key=lambda mask: float(mask.sum()))
    reach = 2 * round(near * _AREA_PX_PER_MM) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    return float((smaller & cv2.dilate(larger, disc)).sum() / max(float(smaller.sum()), 1.0))


def _size(defect: Defect) -> float:
    measure = defect.length_mm or defect.area_mm2
    return measure.value if measure else 0.0


def _rank(defect: Defect) -> tuple[int, float]:
    return ("crack", "ring_arc").index(defect.kind) if defect.kind in ("crack", "ring_arc") else 2, -_size(defect)


def _better_measured(one: Defect, other: Defect) -> Defect:
    """That whose width is measured rather than bounded, then the one whose width is known better."""
    if one.width_um is None or other.width_um is None:
        return one
    first, second = (one.width_is_bound, one.width_um.sigma), (other.width_is_bound, other.width_um.sigma)
    return other if second < first else one


def _with_width(place: Defect, best: Defect) -> Defect:
    return replace(place, width_um=best.width_um, width_is_bound=best.width_is_bound)


def _held_against(defect: Defect, by: set[int], views: Sequence[View]) -> Defect:
    """Its confidence by Bayes: for each other view that saw the place well, found again there or not.

    A crack is never doubted for not being found again: a disc that may be cracked must not be spun.
    """
    odds = defect.confidence / max(1 - defect.confidence, 1e-6)
    real, false = limit("found_again_real", file="together").value, limit("found_again_false", file="together").value
    own = next(number for number, view in enumerate(views) if number in by)
    for number, view in enumerate(views):
        if number in by - {own}:
            odds *= real / false
        elif (
            number not in by
            and defect.kind != "crack"
            and seen_share(defect.outline_mm, view) >= setting("match", "seen_well_share")
        ):
            odds *= (1 - real) / (1 - false)
    return replace(defect, confidence=float(odds / (1 + odds)))
