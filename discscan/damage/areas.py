"""Areas from the probability maps: separated layers, grease, dust, lost print."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.grids import FloatImage
from discscan.records import Defect, FloatArray, Kind, Reading


def areas_of(level: FloatImage, kind: Kind, *, px_per_mm: float, threshold: float) -> list[Defect]:
    """Outlines of what lies above a probability, the largest first.

    Args:
        level: float32 (side, side), the disc's centre at side / 2.
    """
    patches = _patches(level, kind, px_per_mm=px_per_mm, threshold=threshold)
    return _told(patches, level, kind, px_per_mm=px_per_mm)


def _told(patches: Iterable[_Patch], level: FloatImage, kind: Kind, *, px_per_mm: float) -> list[Defect]:
    """Patches of a map as defects, the largest first, without those that are too small."""
    least = setting("damage", f"least_{kind}_mm2") * px_per_mm**2
    found = []
    for patch in patches:
        if patch.cells < least:
            continue
        border = border_of(patch.contour[:, 0].astype(np.float64), patch.cells)
        border_mm = (border - level.shape[0] / 2) / px_per_mm
        found.append(area_defect(kind, border_mm, patch.cells / px_per_mm**2, confidence=patch.mean(level)))
    return largest(found)


def largest(areas: list[Defect]) -> list[Defect]:
    """As many as are told, the largest first."""
    ordered = sorted(areas, key=lambda area: -(area.area_mm2.value if area.area_mm2 else 0))
    return ordered[: int(setting("damage", "most_areas"))]


def layers_and_grease(
    layer: FloatImage, smudge: FloatImage, *, inner_mm: float, outer_mm: float, px_per_mm: float, threshold: float
) -> tuple[list[Defect], FloatImage]:
    """Parted layers, the largest first, and the map of grease with the patches of `layer` that are grease.

    A frosted patch may be parted layers or a fingerprint. Layers part from hub or rim inwards; of a patch that hangs on
    neither, a hint of grease in the other map is enough. To be told at all, a patch must be sure on the whole.

    Args:
        layer, smudge: float32 (side, side), probabilities.
        inner_mm, outer_mm: between which layers can part.
        threshold: of layers.
    """
    smudge, parted = smudge.copy(), []
    reach_mm = setting("damage", "edge_reach_mm")
    for patch in _patches(layer, "delamination", px_per_mm=px_per_mm, threshold=threshold):
        radius_mm = np.hypot(*(patch.contour[:, 0] - layer.shape[0] / 2).T) / px_per_mm
        hangs = radius_mm.min() < inner_mm + reach_mm or radius_mm.max() > outer_mm - reach_mm
        greasy = patch.mean(smudge) >= setting("damage", "grease_at_edge" if hangs else "grease_amid")
        unsure = patch.mean(layer) < setting("damage", "delamination_sure")
        if greasy:
            smudge[patch.at][patch.inside] = np.maximum(smudge[patch.at], layer[patch.at])[patch.inside]
        elif not unsure:
            parted.append(patch)
    return _told(parted, layer, "delamination", px_per_mm=px_per_mm), smudge


@dataclass(frozen=True)
class _Patch:
    """Cells that lie together: OpenCV's contour, the rows and columns about it, and which of those are its own."""

    contour: NDArray[np.int32]
    at: tuple[slice, slice]
    inside: NDArray[np.bool_]
    cells: int

    def mean(self, level: FloatImage) -> float:
        """Of a map, over its cells."""
        return float(level[self.at][self.inside].mean())


def _patches(level: FloatImage, kind: Kind, *, px_per_mm: float, threshold: float) -> Iterator[_Patch]:
    clear = (level >= threshold).astype(np.uint8)
    if kind in ("delamination", "smudge"):  # seams within one patch are no borders
        seam = round(setting("damage", "seam_mm") * px_per_mm) | 1
        clear = np.asarray(cv2.morphologyEx(clear, cv2.MORPH_CLOSE, np.ones((seam, seam), np.uint8)), np.uint8)
    contours, _ = cv2.findContours(clear, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    for contour in contours:
        left, top, width, height = cv2.boundingRect(contour)
        inside = np.zeros((height, width), np.uint8)
        cv2.drawContours(inside, [contour - (left, top)], 0, 1, -1)
        at = slice(top, top + height), slice(left, left + width)
        yield _Patch(np.asarray(contour, np.int32), at, inside > 0, int(inside.sum()))


def outlined(points_mm: FloatArray, *, width_mm: float) -> FloatArray:
    """The closed border of a line of some width."""
    way = np.gradient(points_mm, axis=0)
    way /= np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    across = np.stack([-way[:, 1], way[:, 0]], -1) * width_mm / 2
    return np.concatenate([points_mm + across, (points_mm - across)[::-1]])


def border_of(contour: FloatArray, cells: int) -> FloatArray:
    """A contour runs through the middles of its outermost cells: half a cell is added all round; specks are circles."""
    if cells < 12:
        turn = np.linspace(0, 2 * np.pi, 8, endpoint=False)
        circle = np.sqrt(cells / np.pi) * np.stack([np.cos(turn), np.sin(turn)], -1)
        return np.asarray(contour.mean(axis=0) + 0.5 + circle)
    smooth = cv2.approxPolyDP(contour.astype(np.float32), 0.8, True)[:, 0].astype(np.float64)
    return smooth + 0.5 if len(smooth) > 2 else contour + 0.5


def area_defect(kind: Kind, border_mm: FloatArray, area_mm2: float, *, confidence: float) -> Defect:
    """A defect from a closed border."""
    radius = np.hypot(*border_mm.T)
    angle = np.unwrap(np.arctan2(border_mm[:, 1], border_mm[:, 0]))
    return Defect(
        kind=kind,
        outline_mm=border_mm,
        length_mm=None,
        width_um=None,
        width_is_bound=False,
        area_mm2=Reading(area_mm2, setting("damage", "area_sigma_share") * area_mm2),
        radius_min_mm=float(radius.min()),
        radius_max_mm=float(radius.max()),
        arc_deg=float(min(np.degrees(np.ptp(angle)), 360.0)),
        confidence=confidence,
    )
