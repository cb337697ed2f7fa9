"""The flat disc -> defects in millimetres: probability maps -> centre lines and areas -> kinds.

`filter_maps` makes the maps by image processing; a trained model may make them instead.
"""

from __future__ import annotations

import numpy as np

from discscan.calibration import setting
from discscan.damage.areas import areas_of, specks_of
from discscan.damage.filter import DamageMaps, filter_maps
from discscan.damage.ground import hidden
from discscan.damage.kinds import defect_of, judge_lines
from discscan.damage.trace import trace_lines
from discscan.doubts import Doubt
from discscan.formats import data_area_mm
from discscan.records import DamageSurvey, Defect, Face, FlatDisc

__all__ = ["DamageMaps", "defects_in", "filter_maps", "survey_damage"]

_ORDER = ("crack", "delamination", "ring_arc", "scratch", "smudge", "dust")


def survey_damage(flat: FlatDisc, face: Face) -> DamageSurvey:
    """Find what is damaged on a data side, and what is only dirty.

    On a label side nothing is claimed: print cannot be told from damage by image processing.

    Args:
        flat: the disc from straight above; only cells with `Sight.SEEN` are looked at.
        face: which side is up, and the formats that it may have.
    """
    if face.side == "label":
        return DamageSurvey((), 0.0, flat.measured_fraction)
    inner_mm, outer_mm = data_area_mm(face.format, flat.diameter_mm)
    defects = defects_in(filter_maps(flat), flat)
    most = int(setting("damage", "most_defects"))
    doubts = (Doubt.CLUTTERED,) if len(defects) > most else ()
    density = scratch_density(defects, flat, inner_mm=inner_mm, outer_mm=outer_mm)
    return DamageSurvey(tuple(defects[:most]), density, flat.measured_fraction, doubts)


def defects_in(maps: DamageMaps, flat: FlatDisc) -> list[Defect]:
    """Defects from probability maps, the gravest kinds first, within a kind the clearest first."""
    inner_mm, _ = data_area_mm("unknown", flat.diameter_mm)
    px_mm = max(1 / flat.photo_px_per_mm, 1 / flat.px_per_mm)
    traces = trace_lines(maps.line, px_per_mm=maps.px_per_mm)
    lines = [defect_of(line, px_mm=px_mm) for line in judge_lines(traces, flat)]
    areas = areas_of(maps, lines, rim_mm=flat.diameter_mm / 2, inner_mm=inner_mm)
    found = [*lines, *areas, *specks_of(maps, lines)]
    return sorted(found, key=lambda d: (_ORDER.index(d.kind), -d.confidence * _size(d)))


def _size(defect: Defect) -> float:
    measure = defect.length_mm or defect.area_mm2
    return measure.value if measure else 0.0


def scratch_density(defects: list[Defect], flat: FlatDisc, *, inner_mm: float, outer_mm: float) -> float:
    """Centre-line length of scratches and ring arcs in the data area, over what was measured of it, mm per cm2."""
    blind = hidden(flat, radius_min_mm=inner_mm, radius_max_mm=outer_mm)
    scale = blind.shape[0] / flat.sight.shape[0] * flat.px_per_mm
    area_cm2 = np.count_nonzero(~blind) / scale**2 / 100
    length_mm = 0.0
    for defect in defects:
        if defect.kind in ("scratch", "ring_arc"):
            steps = np.hypot(*np.diff(defect.outline_mm, axis=0).T)
            radius = np.hypot(*((defect.outline_mm[1:] + defect.outline_mm[:-1]) / 2).T)
            length_mm += float(steps[(radius >= inner_mm) & (radius <= outer_mm)].sum())
    return length_mm / area_cm2 if area_cm2 > 0 else 0.0
