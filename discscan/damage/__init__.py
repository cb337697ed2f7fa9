"""The flat disc -> defects in millimetres: probability maps -> centre lines and areas -> kinds."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from discscan.calibration import setting
from discscan.damage.areas import areas_of, layers_and_grease
from discscan.damage.belief import believed, without_grease
from discscan.damage.kinds import defect_of, judge_lines
from discscan.damage.label import survey_label
from discscan.damage.maps import DamageMaps, damage_maps
from discscan.damage.pinholes import pinholes
from discscan.damage.trace import trace_lines
from discscan.doubts import Doubt
from discscan.formats import data_area_mm
from discscan.grids import SCALE, FloatImage, Mask, face_mm, holds, ring, seen_cells
from discscan.polylines import Polylines
from discscan.records import DamageSurvey, Defect, Face, FlatDisc, FormatName, Kind

__all__ = ["DamageMaps", "damage_maps", "defects_in", "pinholes", "scratch_density", "survey_damage"]

_ORDER = ("crack", "delamination", "ring_arc", "scratch", "smudge", "dust")


def survey_damage(flat: FlatDisc, face: Face, maps: DamageMaps) -> DamageSurvey:
    """Find what is damaged, and on a data side what is only dirty.

    Args:
        flat: the disc from straight above; only cells with `Sight.SEEN` are looked at, for lines also burnt-out ones.
        face: which side is up, and the formats that it may have.
        maps: of `damage_maps`.
    """
    if face.side == "label":
        return survey_label(flat, face, maps)
    inner_mm, outer_mm = data_area_mm(face.format, flat.diameter_mm)
    seen = seen_cells(flat)
    defects = defects_in(flat, maps, face.formats, seen=seen)
    most = int(setting("damage", "most_defects"))
    doubts = (Doubt.CLUTTERED,) if len(defects) > most else ()
    density = scratch_density(defects, seen, flat.px_per_mm * SCALE, inner_mm=inner_mm, outer_mm=outer_mm)
    return DamageSurvey(tuple(defects[:most]), density, flat.measured_fraction, doubts)


def defects_in(flat: FlatDisc, maps: DamageMaps, formats: Sequence[FormatName], *, seen: Mask) -> list[Defect]:
    """Defects of a data side, the gravest kinds first, within a kind the clearest first.

    Args:
        formats: that the disc may have.
        seen: of `seen_cells`.
    """
    px_mm = max(1 / flat.photo_px_per_mm, 1 / flat.px_per_mm)
    innermost_mm, outermost_mm = face_mm(flat.diameter_mm)
    disc = ring(len(seen), maps.px_per_mm, inner_mm=innermost_mm, outer_mm=outermost_mm)
    face, lit = disc & seen, disc & seen_cells(flat, burnt=True)  # burnt-out light hides areas, not all lines
    inner_mm, outer_mm = data_area_mm("unknown", flat.diameter_mm)
    data = seen & ring(len(seen), maps.px_per_mm, inner_mm=inner_mm, outer_mm=outer_mm)

    def shown(level: FloatImage, where: Mask) -> FloatImage:
        return np.asarray(level * where, np.float32)

    traces, cracks = (
        trace_lines(
            shown(level, lit),
            px_per_mm=maps.px_per_mm,
            low=setting("damage", f"level.{name}_low"),
            high=setting("damage", f"level.{name}_high"),
        )
        for name, level in (("line", maps.line), ("crack", maps.crack))
    )
    traces = believed(without_grease(traces, maps), flat, told=setting("damage", "level.line"))
    lines = judge_lines(traces, cracks, flat, maps, formats)
    found = [defect_of(line, px_mm=px_mm) for line in lines]
    layers, smudge = layers_and_grease(
        shown(maps.layer, face),
        shown(maps.smudge, data),
        inner_mm=inner_mm,
        outer_mm=flat.diameter_mm / 2,
        px_per_mm=maps.px_per_mm,
        threshold=setting("damage", "level.layer"),
    )
    reach_mm = setting("damage", "layer_reach_mm")
    found += [d for d in layers if d.radius_max_mm > inner_mm + reach_mm and d.radius_min_mm < outer_mm - reach_mm]
    areas: tuple[tuple[Kind, FloatImage], ...] = (("smudge", smudge), ("dust", shown(maps.dust, data)))
    for kind, level in areas:
        found += areas_of(level, kind, px_per_mm=maps.px_per_mm, threshold=setting("damage", f"level.{kind}"))
    return sorted(found, key=lambda d: (_ORDER.index(d.kind), -d.confidence * _size(d)))


def _size(defect: Defect) -> float:
    measure = defect.length_mm or defect.area_mm2
    return measure.value if measure else 0.0


def scratch_density(defects: list[Defect], seen: Mask, px_per_mm: float, *, inner_mm: float, outer_mm: float) -> float:
    """Centre-line length of scratches and ring arcs over what was measured of the data area, mm per cm2.

    Args:
        seen: of `seen_cells`, `px_per_mm` cells to a millimetre.
    """
    measured = seen & ring(len(seen), px_per_mm, inner_mm=inner_mm, outer_mm=outer_mm)
    area_cm2 = np.count_nonzero(measured) / px_per_mm**2 / 100
    outlines = [defect.outline_mm for defect in defects if defect.kind in ("scratch", "ring_arc")]
    if not outlines or not area_cm2:
        return 0.0
    lines = Polylines.of(outlines)
    before = lines.points[lines.beside(-1)]
    shown = holds(measured, (lines.points + before) / 2, px_per_mm)
    return float(np.hypot(*(lines.points - before)[shown].T).sum() / area_cm2)
