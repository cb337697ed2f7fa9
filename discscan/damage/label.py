"""Damage of the label side: print that is scratched through or flaked off.

How deep it goes no photograph of the label shows. On a CD the data lies right under the lacquer, so each wound carries
how likely it is to have reached it; elsewhere the data lies deeper.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from discscan.calibration import limit, setting
from discscan.damage.areas import area_defect, areas_of, largest, outlined
from discscan.damage.maps import DamageMaps
from discscan.damage.trace import Trace, cells_of, trace_lines
from discscan.doubts import Doubt
from discscan.grids import FloatImage, Mask, mirror_mm, ring, seen_cells
from discscan.records import ByteImage, DamageSurvey, Defect, Face, FlatDisc

_BLUR_LEAVES = 1 / 3
"""Of its height: the blur before crests are looked for (`crest_blur_px`) leaves half of a line that is one cell wide,
erf(0.5 / (0.8 sqrt 2)), and less of a broken one."""


def survey_label(flat: FlatDisc, face: Face, maps: DamageMaps) -> DamageSurvey:
    """Wounds of a label side, the largest first, where a mirror lies under it.

    A scratch is outlined by itself, at its width: one border around scratches that cross would enclose what is whole.
    """
    per_mm, least = maps.px_per_mm, setting("damage", "level.label")
    inner_mm, outer_mm = mirror_mm(flat.diameter_mm)
    mirror = seen_cells(flat) & ring(len(maps.label), per_mm, inner_mm=inner_mm, outer_mm=outer_mm)
    level = np.asarray(maps.label * (mirror & (maps.label >= least)), np.float32)
    scratches, taken = _scratches(level, px_per_mm=per_mm)
    flakes = areas_of(level * ~taken, "label_damage", px_per_mm=per_mm, threshold=least)
    share = limit("label_wound_reaches").value
    wounds = tuple(replace(wound, reaches_data=share) for wound in largest(scratches + flakes))
    doubts = (Doubt.LABEL_DEPTH_UNKNOWN,) if wounds and "cd" in face.formats else ()
    return DamageSurvey(wounds, 0.0, flat.measured_fraction, doubts)


def _scratches(level: FloatImage, *, px_per_mm: float) -> tuple[list[Defect], Mask]:
    """Wounds along lines that are too narrow for flakes, and which cells of the map they take.

    Args:
        level: float32 (side, side), 0 where nothing is.
    """
    wide_px = round(setting("damage", "flake_mm") * px_per_mm) | 1
    there = (level > 0).astype(np.uint8)
    flakes = cv2.morphologyEx(there, cv2.MORPH_OPEN, np.ones((wide_px, wide_px), np.uint8))
    narrow = np.asarray(level * (flakes == 0), np.float32)
    found: list[Defect] = []
    taken = np.zeros(level.shape, np.bool_)
    if not narrow.any():
        return found, taken
    least = _BLUR_LEAVES * float(narrow.max())
    for trace in trace_lines(narrow, px_per_mm=px_per_mm, low=least, high=least):
        box, cells = _cells_along(trace, there, wide_px=wide_px, px_per_mm=px_per_mm)
        taken[box] |= cells
        area_mm2 = float(np.count_nonzero(cells) / px_per_mm**2)
        plain = cv2.approxPolyDP(trace.points_mm.astype(np.float32), 0.5 / px_per_mm, False)[:, 0].astype(np.float64)
        border = outlined(plain, width_mm=area_mm2 / trace.length_mm)
        found.append(area_defect("label_damage", border, area_mm2, confidence=float(level[box][cells].mean())))
    return found, taken


def _cells_along(trace: Trace, there: ByteImage, *, wide_px: int, px_per_mm: float) -> tuple[tuple[slice, slice], Mask]:
    """A box about a line, and those of its cells that lie within half of a width of the line, where something is."""
    points = cells_of(trace, side=len(there), px_per_mm=px_per_mm)
    first = np.maximum(points.min(axis=0).astype(int) - wide_px, 0)
    last = points.max(axis=0).astype(int) + wide_px
    box = slice(first[1], last[1] + 1), slice(first[0], last[0] + 1)
    drawn = np.zeros(there[box].shape, np.uint8)
    cv2.polylines(drawn, [np.round((points - first) * 16).astype(np.int32)], False, 1, wide_px, cv2.LINE_8, 4)
    return box, (drawn & there[box]) > 0
