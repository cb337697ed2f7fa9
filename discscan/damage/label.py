"""Damage of the label side: print that is scratched through or flaked off, and holes in the mirror beneath.

How deep it goes no photograph of the label shows. On a CD the data lies right under the lacquer, so each wound carries
how likely it is to have reached it; elsewhere the data lies deeper.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from discscan.calibration import limit, setting
from discscan.damage.areas import area_defect, areas_of, outlined
from discscan.damage.maps import DamageMaps
from discscan.damage.trace import trace_lines
from discscan.doubts import Doubt
from discscan.grids import FloatImage, Mask, ring, seen_cells
from discscan.records import DamageSurvey, Defect, Face, FlatDisc

_BLUR_LEAVES = 1 / 3
"""Of the height of a line one cell wide, the blur before the search for crests leaves half, of a broken one less."""


def survey_label(flat: FlatDisc, face: Face, maps: DamageMaps, *, threshold: float) -> DamageSurvey:
    """Wounds of a label side, the largest first, where a mirror lies under it: the hub is clear and without print.

    A scratch is outlined by itself, at its width: one border around scratches that cross would enclose what is whole.

    Args:
        threshold: of the net's channel "label".
    """
    per_mm = maps.px_per_mm
    low, high = setting("damage", "mirror_inner_mm"), flat.diameter_mm / 2 - setting("damage", "mirror_margin_mm")
    mirror = seen_cells(flat) & ring(len(maps.label), per_mm, inner_mm=low, outer_mm=high)
    level = np.asarray(maps.label * (mirror & (maps.label >= threshold)), np.float32)
    wounds, lines = _scratches(level, px_per_mm=per_mm)
    wounds += areas_of(level * ~lines, "label_damage", px_per_mm=per_mm, threshold=threshold)
    wounds.sort(key=lambda wound: -(wound.area_mm2.value if wound.area_mm2 else 0))
    share = limit("label_wound_reaches").value
    told = tuple(replace(wound, reaches_data=share) for wound in wounds[: int(setting("damage", "most_areas"))])
    doubts = (Doubt.LABEL_DEPTH_UNKNOWN,) if told and "cd" in face.formats else ()
    return DamageSurvey(told, 0.0, flat.measured_fraction, doubts)


def _scratches(level: FloatImage, *, px_per_mm: float) -> tuple[list[Defect], Mask]:
    """Wounds along the lines of a map that is 0 where nothing is, and which of its cells they take."""
    wide_px = round(setting("damage", "flake_mm") * px_per_mm) | 1
    there = (level > 0).astype(np.uint8)
    flakes = cv2.morphologyEx(there, cv2.MORPH_OPEN, np.ones((wide_px, wide_px), np.uint8))
    narrow = np.asarray(level * (flakes == 0), np.float32)
    least = _BLUR_LEAVES * float(narrow.max())
    found, taken = [], np.zeros(level.shape, np.bool_)
    for trace in trace_lines(narrow, px_per_mm=px_per_mm, low=least, high=least) if least > 0 else ():
        points = trace.points_mm * px_per_mm + len(level) / 2 - 0.25
        (left, top), (right, bottom) = (
            points.min(axis=0).astype(int) - wide_px,
            points.max(axis=0).astype(int) + wide_px,
        )
        box = slice(max(top, 0), bottom + 1), slice(max(left, 0), right + 1)
        drawn = np.zeros(level[box].shape, np.uint8)
        at = np.round((points - (box[1].start, box[0].start)) * 16).astype(np.int32)
        cv2.polylines(drawn, [at], False, 1, wide_px, cv2.LINE_8, 4)
        cells = (drawn & there[box]) > 0
        area_mm2 = float(np.count_nonzero(cells) / px_per_mm**2)
        plain = cv2.approxPolyDP(trace.points_mm.astype(np.float32), 0.5 / px_per_mm, False)[:, 0].astype(np.float64)
        border = outlined(plain, width_mm=area_mm2 / trace.length_mm)
        found.append(area_defect("label_damage", border, area_mm2, confidence=float(level[box][cells].mean())))
        taken[box] |= cells
    return found, taken
