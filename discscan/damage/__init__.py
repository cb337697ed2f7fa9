"""The flat disc -> defects in millimetres: probability maps -> centre lines and areas -> kinds."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import constant, setting
from discscan.damage.areas import areas_of
from discscan.damage.kinds import cracks_of, defect_of, surface_kind
from discscan.damage.maps import DamageMaps, FloatImage, damage_maps
from discscan.damage.measure import measured
from discscan.damage.trace import trace_lines
from discscan.doubts import Doubt
from discscan.formats import data_area_mm
from discscan.records import DamageSurvey, Defect, Face, FlatDisc, Sight
from discscan.weights import Net

__all__ = ["DamageMaps", "damage_maps", "defects_in", "survey_damage"]

_ORDER = ("crack", "delamination", "label_damage", "ring_arc", "scratch", "smudge", "dust")


def survey_damage(flat: FlatDisc, face: Face, maps: DamageMaps, *, net: Net) -> DamageSurvey:
    """What is damaged, and what is only dirty.

    Args:
        flat: the disc from straight above; nothing is claimed off the disc and where it is covered.
        face: which side is up; on a label side only print can be seen to be damaged.
        maps: of `damage_maps`.
        net: the net "damage", for the thresholds that come with it.
    """
    defects = defects_in(maps, flat, face, net=net)
    most = int(setting("damage", "most_defects"))
    doubts = (Doubt.CLUTTERED,) if len(defects) > most else ()
    inner_mm, outer_mm = data_area_mm(face.format, flat.diameter_mm)
    density = scratch_density(defects, flat, inner_mm=inner_mm, outer_mm=outer_mm)
    return DamageSurvey(tuple(defects[:most]), density, flat.measured_fraction, doubts)


def defects_in(maps: DamageMaps, flat: FlatDisc, face: Face, *, net: Net) -> list[Defect]:
    """Defects from probability maps, the gravest kinds first, within a kind the clearest first."""
    shown = ~_unseen(flat, maps.line.shape[0])

    def seen(level: FloatImage) -> FloatImage:
        return np.asarray(level * shown, np.float32)

    found = [
        *areas_of(seen(maps.smudge), "smudge", px_per_mm=maps.px_per_mm, threshold=net.threshold("smudge")),
        *areas_of(seen(maps.dust), "dust", px_per_mm=maps.px_per_mm, threshold=net.threshold("dust")),
    ]
    if face.side == "label":
        label = net.threshold("label")
        found += areas_of(seen(maps.label), "label_damage", px_per_mm=maps.px_per_mm, threshold=label)
    else:
        found += areas_of(seen(maps.layer), "delamination", px_per_mm=maps.px_per_mm, threshold=net.threshold("layer"))
        found += _lines(seen(maps.line), seen(maps.crack), flat, maps.px_per_mm, net)
    return sorted(found, key=lambda d: (_ORDER.index(d.kind), -d.confidence * _size(d)))


def _lines(line: FloatImage, crack: FloatImage, flat: FlatDisc, px_per_mm: float, net: Net) -> list[Defect]:
    """Cracks first; a surface line where a crack runs is that crack's own shine."""
    traces = trace_lines(crack, px_per_mm=px_per_mm, low=net.threshold("crack_low"), high=net.threshold("crack_high"))
    hole_mm = constant("cd", "hole_mm").value / 2
    cracks = cracks_of(measured(traces, flat), hole_mm=hole_mm, rim_mm=flat.diameter_mm / 2)
    if cracks:
        line = line.copy()
        beside = round(2 * setting("damage", "crack_shine_mm") * px_per_mm)
        for found in cracks:
            cells = np.round(found.points_mm * px_per_mm + line.shape[0] / 2).astype(np.int32)
            cv2.polylines(line, [cells], False, 0.0, beside)
    traces = trace_lines(line, px_per_mm=px_per_mm, low=net.threshold("line_low"), high=net.threshold("line_high"))
    surface = [found for found in measured(traces, flat) if found.probability >= net.threshold("line_mean")]
    return [defect_of(c, "crack") for c in cracks] + [defect_of(s, surface_kind(s)) for s in surface]


def _size(defect: Defect) -> float:
    measure = defect.length_mm or defect.area_mm2
    return measure.value if measure else 0.0


def _unseen(flat: FlatDisc, side: int) -> NDArray[np.bool_]:
    """Cells of the maps that are off the disc, out of the photograph or covered."""
    sight = cv2.resize(flat.sight, (side, side), interpolation=cv2.INTER_NEAREST)
    return np.isin(sight, (Sight.OFF_DISC, Sight.OUTSIDE_PHOTO, Sight.COVERED))


def scratch_density(defects: list[Defect], flat: FlatDisc, *, inner_mm: float, outer_mm: float) -> float:
    """Centre-line length of scratches and ring arcs in the data area, over what was measured of it, mm per cm2."""
    along = (np.arange(flat.sight.shape[0], dtype=np.float32) - flat.sight.shape[0] / 2) / flat.px_per_mm
    radius2 = along[None] ** 2 + along[:, None] ** 2
    measured_cells = (flat.sight == Sight.SEEN) & (radius2 >= inner_mm**2) & (radius2 <= outer_mm**2)
    area_cm2 = np.count_nonzero(measured_cells) / flat.px_per_mm**2 / 100
    length_mm = 0.0
    for defect in defects:
        if defect.kind in ("scratch", "ring_arc"):
            steps = np.hypot(*np.diff(defect.outline_mm, axis=0).T)
            radius = np.hypot(*((defect.outline_mm[1:] + defect.outline_mm[:-1]) / 2).T)
            length_mm += float(steps[(radius >= inner_mm) & (radius <= outer_mm)].sum())
    return length_mm / area_cm2 if area_cm2 > 0 else 0.0
