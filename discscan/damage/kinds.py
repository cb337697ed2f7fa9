"""Of which kind each line is, and its record."""

from __future__ import annotations

import numpy as np

from discscan.calibration import setting
from discscan.damage.measure import Line
from discscan.records import Defect, Kind, Reading


def surface_kind(line: Line) -> Kind:
    """A ring arc runs along the track; a straight line of its length would stray from the circle by its sagitta."""
    sagitta = line.length_mm**2 / (8 * line.radius_mm)
    stray = min(setting("damage", "arc_stray_share") * sagitta, setting("damage", "arc_stray_mm"))
    along_track = sagitta > setting("damage", "arc_sagitta_mm") and line.radius_spread_mm < stray
    return "ring_arc" if along_track else "scratch"


def cracks_of(lines: list[Line], *, hole_mm: float, rim_mm: float) -> list[Line]:
    """The lines that begin at the hole or the rim, and those that branch from them.

    A crack has its start where the disc is held or struck; a line in the middle of the disc is none, whatever the net
    takes it for.
    """
    reach = setting("damage", "crack_start_mm")
    rest, found = list(lines), []
    for line in lines:
        radius = np.hypot(*line.points_mm.T)
        if radius.min() < hole_mm + reach or radius.max() > rim_mm - reach:
            found.append(line)
            rest.remove(line)
    grown = True
    while grown and rest and found:
        grown = False
        trunk = np.concatenate([line.points_mm for line in found])
        for line in list(rest):
            ends = line.points_mm[[0, -1]]
            if np.hypot(*(trunk[:, None] - ends[None]).transpose(2, 0, 1)).min() < reach:
                found.append(line)
                rest.remove(line)
                grown = True
    return [line for line in found if line.length_mm >= setting("damage", "least_crack_mm")]


def defect_of(line: Line, kind: Kind) -> Defect:
    """The record of a line."""
    radius = np.hypot(*line.points_mm.T)
    return Defect(
        kind=kind,
        outline_mm=line.points_mm,
        length_mm=Reading(line.length_mm, 0.02 * line.length_mm + 0.3),
        width_um=Reading(1000 * line.width_mm.value, 1000 * line.width_mm.sigma),
        width_is_bound=line.width_is_bound,
        area_mm2=None,
        radius_min_mm=float(radius.min()),
        radius_max_mm=float(radius.max()),
        arc_deg=line.arc_deg,
        confidence=line.probability,
    )
