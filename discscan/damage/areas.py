"""Areas and specks from the probability maps: separated layers, grease, dust."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.damage.filter import DamageMaps
from discscan.damage.ground import FloatImage
from discscan.records import Defect, FloatArray, Kind, Reading


def areas_of(maps: DamageMaps, lines: Sequence[Defect], *, rim_mm: float, inner_mm: float) -> list[Defect]:
    """Separated layers, which hang on the rim or the hub; what else is frosted or greasy is a smudge.

    Args:
        lines: damage already found; crests that it explains are no grease.
    """
    edge = setting("damage", "layer_edge_mm")
    layers = [
        area
        for area in _outlines(maps.frost, "delamination", px_per_mm=maps.px_per_mm, least_mm2=_least("layer"))
        if area.radius_max_mm > rim_mm - edge or area.radius_min_mm < inner_mm + edge
    ]
    greasy = maps.smudge.copy()
    for line in lines:
        reach = round(2 * setting("damage", "own_crest_mm") * maps.px_per_mm)
        cv2.polylines(greasy, [_cells(line.outline_mm, maps)], False, 0.0, reach)
    for area in layers:
        cv2.fillPoly(greasy, [_cells(area.outline_mm, maps)], 0.0)
    return layers + _outlines(greasy, "smudge", px_per_mm=maps.px_per_mm, least_mm2=_least("smudge"))


def specks_of(maps: DamageMaps, lines: Sequence[Defect]) -> list[Defect]:
    """Grains of dust: small compact spots away from lines and smudges, the clearest first."""
    clear = ((maps.speck >= setting("damage", "speck_level")) & (maps.smudge < 0.5)).astype(np.uint8)
    for line in lines:
        cv2.polylines(clear, [_cells(line.outline_mm, maps)], False, 0, round(1.2 * maps.px_per_mm))
    count, _, stats, middles = cv2.connectedComponentsWithStats(clear, connectivity=8)
    most = setting("damage", "speck_most_mm") * maps.px_per_mm
    wide, high, size = stats[:, 2], stats[:, 3], stats[:, 4]
    round_ = (np.maximum(wide, high) <= most) & (size >= 0.4 * wide * high) & (size >= 2)
    round_ &= np.minimum(wide, high) * 2.5 >= np.maximum(wide, high)
    found = [_speck(middles[i], float(size[i]), maps) for i in range(1, count) if round_[i]]
    found.sort(key=lambda speck: -(speck.area_mm2.value if speck.area_mm2 else 0))
    return found[: int(setting("damage", "most_specks"))]


def outlined(points_mm: FloatArray, *, width_mm: float) -> FloatArray:
    """The closed border of a line of some width."""
    way = np.gradient(points_mm, axis=0)
    way /= np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    across = np.stack([-way[:, 1], way[:, 0]], -1) * width_mm / 2
    return np.concatenate([points_mm + across, (points_mm - across)[::-1]])


def area_defect(kind: Kind, border_mm: FloatArray, *, confidence: float, sigma_share: float = 0.3) -> Defect:
    """A defect from a closed border."""
    area = float(cv2.contourArea(border_mm.astype(np.float32)))
    radius = np.hypot(*border_mm.T)
    angle = np.unwrap(np.arctan2(border_mm[:, 1], border_mm[:, 0]))
    return Defect(
        kind=kind,
        outline_mm=border_mm,
        length_mm=None,
        width_um=None,
        width_is_bound=False,
        area_mm2=Reading(area, sigma_share * area),
        radius_min_mm=float(radius.min()),
        radius_max_mm=float(radius.max()),
        arc_deg=float(min(np.degrees(np.ptp(angle)), 360.0)),
        confidence=confidence,
    )


def _least(name: str) -> float:
    return setting("damage", f"least_{name}_mm2")


def _cells(points_mm: FloatArray, maps: DamageMaps) -> NDArray[np.int32]:
    return np.asarray(np.round(points_mm * maps.px_per_mm + maps.line.shape[0] / 2), np.int32)


def _outlines(level: FloatImage, kind: Kind, *, px_per_mm: float, least_mm2: float) -> list[Defect]:
    clear = (level >= setting("damage", "area_level")).astype(np.uint8)
    contours, _ = cv2.findContours(clear, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    found = []
    for contour in contours:
        if cv2.contourArea(contour) < least_mm2 * px_per_mm**2:
            continue
        inside = np.zeros_like(clear)
        cv2.drawContours(inside, [contour], 0, 1, -1)
        smooth = cv2.approxPolyDP(contour, 1.0, True)[:, 0].astype(np.float64)
        border = (smooth - level.shape[0] / 2) / px_per_mm
        found.append(area_defect(kind, border, confidence=float(cv2.mean(level, inside)[0])))
    found.sort(key=lambda area: -(area.area_mm2.value if area.area_mm2 else 0))
    return found


def _speck(middle: FloatArray, cells: float, maps: DamageMaps) -> Defect:
    """A circle of the spot's area."""
    centre = (middle - maps.line.shape[0] / 2) / maps.px_per_mm
    radius = np.sqrt(cells / np.pi) / maps.px_per_mm
    turn = np.linspace(0, 2 * np.pi, 8, endpoint=False)
    border = centre + radius * np.stack([np.cos(turn), np.sin(turn)], -1)
    column, row = (int(np.clip(round(v), 0, maps.line.shape[0] - 1)) for v in middle)
    return area_defect("dust", border, confidence=float(maps.speck[row, column]), sigma_share=0.5)
