"""Which of the lines seen are damage, and of which kind; the rest is light, dirt or how the disc is made."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from discscan.calibration import setting
from discscan.damage.measure import LineLook
from discscan.records import Defect, FloatArray, Kind, Reading


def lines_of(looks: list[LineLook], *, inner_mm: float, rim_mm: float, px_mm: float) -> list[Defect]:
    """Scratches, ring arcs and cracks among the lines.

    Args:
        inner_mm: radius at which the data area begins; inside it only cracks are damage.
        rim_mm: the disc's radius.
        px_mm: one pixel of the photograph or of the flat grid, whichever is larger, in mm.
    """
    clear = [look for look in looks if _is_a_mark(look)]
    cracks = [look for look in clear if _is_hub_crack(look, inner_mm)]
    outside = [part for look in clear if not _is_hub_crack(look, inner_mm) for part in _outside(look, inner_mm)]
    found = [_defect(look, "crack", px_mm) for look in cracks]
    return found + [_defect(look, _kind(look, rim_mm), px_mm) for look in _without_rings(outside)]


def _is_hub_crack(look: LineLook, inner_mm: float) -> bool:
    """A bright or dark line that runs outward through the clear hub, where nothing is moulded across the rings."""
    radius = np.hypot(look.points_mm[:, 0], look.points_mm[:, 1])
    in_hub_mm = min(float(radius.max()), inner_mm) - float(radius.min())
    return (
        in_hub_mm > setting("damage", "hub_crack_mm")
        and look.radial > setting("damage", "hub_crack_radial")
        and look.misses_centre_mm < setting("damage", "hub_crack_misses_mm")
        and look.contrast > setting("damage", "hub_crack_contrast_levels")
    )


def _outside(look: LineLook, inner_mm: float) -> list[LineLook]:
    """What of a line lies in the data area: the line itself, its outer piece, or nothing worth a name."""
    radius = np.hypot(look.points_mm[:, 0], look.points_mm[:, 1])
    if radius.min() >= inner_mm:
        return [look]
    points = look.points_mm[radius >= inner_mm]
    length_mm = float(np.hypot(*np.diff(points, axis=0).T).sum()) if len(points) > 1 else 0.0
    return [replace(look, points_mm=points, length_mm=length_mm)] if length_mm > setting("damage", "least_trace_mm") else []


def _is_a_mark(look: LineLook) -> bool:
    """Stands out from both sides alike, without colour of its own, along most of its length."""
    if look.contrast < setting("damage", "least_over_noise") * look.noise:
        return False
    if look.contrast < setting("damage", "least_over_texture") * look.texture:
        return False
    if look.one_sign < setting("damage", "least_one_sign") or look.lopsided > setting("damage", "most_lopsided"):
        return False
    if look.colour > setting("damage", "most_colour") or look.fill < setting("damage", "least_fill"):
        return False
    # the streak of a lamp runs exactly through the centre, straight as a ruler; a hair curls
    streak = (
        look.straggle_mm < setting("damage", "streak_straggle_mm")
        and look.misses_centre_mm < setting("damage", "streak_misses_mm")
        and look.length_mm > setting("damage", "streak_length_mm")
    )
    curls = abs(look.bend_per_mm) > 1.0 / setting("damage", "hair_radius_mm")
    return not streak and not curls


def is_ring_arc(points_mm: FloatArray, *, length_mm: float, radius_mm: float, spread_mm: float) -> bool:
    """Does the line run along the track? A straight line's distance from the centre varies by 0.3 of its sagitta."""
    sagitta = length_mm**2 / (8.0 * radius_mm)
    limit = min(0.15 * sagitta, setting("damage", "arc_spread_mm"))
    return len(points_mm) > 2 and sagitta > setting("damage", "arc_sagitta_mm") and spread_mm < limit


def _kind(look: LineLook, rim_mm: float) -> Kind:
    if is_ring_arc(look.points_mm, length_mm=look.length_mm, radius_mm=look.radius_mm, spread_mm=look.radius_spread_mm):
        return "ring_arc"
    radius = np.hypot(look.points_mm[:, 0], look.points_mm[:, 1])
    from_edge = radius.min() < setting("damage", "crack_hub_mm") or radius.max() > rim_mm - setting("damage", "crack_rim_mm")
    wide = look.width_mm > setting("damage", "crack_width_mm") and look.contrast > setting("damage", "crack_contrast_levels")
    return "crack" if from_edge and wide and look.length_mm > setting("damage", "crack_length_mm") else "scratch"


def _without_rings(looks: list[LineLook]) -> list[LineLook]:
    """Drop arcs of a radius at which arcs fill most of the turn: that is a moulded ring or a recorded edge."""
    arcs = [
        is_ring_arc(k.points_mm, length_mm=k.length_mm, radius_mm=k.radius_mm, spread_mm=k.radius_spread_mm) for k in looks
    ]
    near = setting("damage", "same_ring_mm")
    kept = []
    for look, arc in zip(looks, arcs, strict=True):
        alike = (o.arc_deg for o, a in zip(looks, arcs, strict=True) if a and abs(o.radius_mm - look.radius_mm) < near)
        if not (arc and sum(alike) > setting("damage", "whole_ring_deg")):
            kept.append(look)
    return kept


def _defect(look: LineLook, kind: Kind, px_mm: float) -> Defect:
    radius = np.hypot(look.points_mm[:, 0], look.points_mm[:, 1])
    bound = look.width_mm < 2.0 * px_mm
    # below two pixels the width is blur; what the line takes from the contrast of a full pixel bounds it from above
    width_mm = max(look.width_mm - px_mm, 0.3 * px_mm) if bound else float(np.sqrt(look.width_mm**2 - px_mm**2))
    return Defect(
        kind=kind,
        outline_mm=look.points_mm,
        length_mm=Reading(look.length_mm, 0.02 * look.length_mm + 0.2),
        width_um=Reading(1000.0 * width_mm, 1000.0 * (0.5 * px_mm if bound else 0.3 * px_mm)),
        width_is_bound=bound,
        area_mm2=None,
        radius_min_mm=float(radius.min()),
        radius_max_mm=float(radius.max()),
        arc_deg=look.arc_deg,
        confidence=float(np.clip(look.probability, 0.0, 0.99)),
    )
