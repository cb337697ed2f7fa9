"""Which of the lines seen are damage, and of which kind; the rest is light, dirt or how the disc is made."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from discscan.calibration import setting
from discscan.damage.areas import area_defect, outlined
from discscan.damage.measure import LineLook, look_at
from discscan.damage.odds import surface_odds
from discscan.damage.rings import along_one_circle, goes_round, is_ring_arc
from discscan.damage.trace import Trace
from discscan.damage.twins import without_twins
from discscan.records import Defect, FlatDisc, Kind, Reading


@dataclass(frozen=True)
class Line:
    """A line that was judged, with its kind and how sure that is, 0..1."""

    look: LineLook
    kind: Kind
    confidence: float


def judge_lines(traces: list[Trace], flat: FlatDisc) -> list[Line]:
    """Cracks, ring arcs and scratches, and hairs as dust, among the traces of one disc.

    Cracks are looked for from hole to rim, marks in the surface only where the mirror is: through the clear hub one
    sees the table, and the rim is full of lines of its own.
    """
    rim_mm = flat.diameter_mm / 2
    low, high = setting("damage", "mirror_inner_mm"), rim_mm - setting("damage", "mirror_margin_mm")
    pieces = [piece for trace in traces for piece in trace.within(low, high) if piece.length_mm >= _least_mm()]
    edges = [trace for trace in traces if _reaches_an_edge(trace, rim_mm=rim_mm)]
    looks = look_at(edges + pieces, flat)
    cracks = [
        Line(look, "crack", setting("damage", "crack_confidence"))
        for look in looks[: len(edges)]
        if is_crack(look, rim_mm=rim_mm)
    ]
    lines = []
    for look in looks[len(edges) :]:
        if is_streak(look):
            continue
        if is_hair(look):
            if look.contrast > setting("damage", "hair_over_noise") * look.noise:
                lines.append(Line(look, "dust", min(0.9, look.probability)))
            continue
        sure = surface_odds(look, rim_mm=rim_mm)
        if sure >= setting("damage", "least_confidence"):
            lines.append(Line(look, "scratch", sure))
    round_ = along_one_circle([line.look for line in lines])
    lines = [replace(line, kind="ring_arc") if arc else line for line, arc in zip(lines, round_, strict=True)]
    arcs = [line for line in lines if line.kind == "ring_arc"]
    whole = goes_round([line.look for line in arcs], flat)
    structure = {id(line) for line, goes_on in zip(arcs, whole, strict=True) if goes_on}
    return without_twins(cracks + [line for line in lines if id(line) not in structure])


def _reaches_an_edge(trace: Trace, *, rim_mm: float) -> bool:
    """Whether a trace comes near enough to hole or rim to be a crack; most do not, and measuring takes time."""
    radius = np.hypot(*trace.points_mm.T)
    near = setting("damage", "crack_start_mm") + 0.5
    return bool(
        radius.min() < setting("damage", "innermost_mm") + near
        or radius.max() > rim_mm - setting("damage", "rim_margin_mm") - near
    )


def _least_mm() -> float:
    return setting("damage", "least_trace_mm")


def is_hair(look: LineLook) -> bool:
    """Bent, and not about the disc's centre: hands and grit draw nearly straight lines, hairs and lint curl."""
    sagitta = look.bend_per_mm * look.length_mm**2 / 8
    curled = look.bend_per_mm > 1 / setting("damage", "hair_radius_mm") and sagitta > setting(
        "damage", "hair_sagitta_mm"
    )
    looped = look.turn_deg > setting("damage", "hair_turn_deg") and look.turn_deg > 2 * look.arc_deg
    return (curled or looped) and not is_ring_arc(look)


def is_streak(look: LineLook) -> bool:
    """A lamp's streak in the rainbow points at the centre and crosses much of the data area; few scratches do both."""
    return (
        look.misses_centre_mm < setting("damage", "streak_misses_mm")
        and look.length_mm > setting("damage", "streak_length_mm")
    )  # fmt: skip


def is_crack(look: LineLook, *, rim_mm: float) -> bool:
    """A bright line that runs inwards from the rim or outwards from the hole. Cautious: it condemns a disc."""
    radius = np.hypot(*look.points_mm.T)
    reach = float(np.ptp(radius))
    shines = (
        look.contrast > setting("damage", "crack_levels")
        and look.contrast > setting("damage", "crack_over_noise") * look.noise
        and look.contrast > setting("damage", "crack_over_ground") * (look.coarse + 0.2)
        and look.one_sign > setting("damage", "crack_one_sign")
        and look.lopsided < setting("damage", "crack_lopsided")
        and look.fill > setting("damage", "least_fill")
    )
    outward = reach > setting("damage", "crack_outward_share") * look.length_mm
    if not (shines and outward):
        return False
    if radius.min() < setting("damage", "innermost_mm") + setting("damage", "crack_start_mm"):
        return reach > setting("damage", "crack_hub_reach_mm")
    from_rim = radius.max() > rim_mm - setting("damage", "rim_margin_mm") - setting("damage", "crack_start_mm")
    jagged = look.straggle_mm > setting("damage", "crack_straggle_mm")
    wide = look.width_mm > setting("damage", "crack_width_mm")
    return from_rim and jagged and wide and reach > setting("damage", "crack_rim_reach_mm")


def defect_of(line: Line, *, px_mm: float) -> Defect:
    """The record of a judged line.

    Args:
        px_mm: one pixel of the photograph or one cell of the flat grid, whichever is larger, in mm.
    """
    look = line.look
    radius = np.hypot(*look.points_mm.T)
    if line.kind == "dust":
        width_mm = max(look.width_mm, px_mm)
        border = outlined(look.points_mm, width_mm=width_mm)
        return area_defect("dust", border, look.length_mm * width_mm, confidence=line.confidence)
    width_mm, sigma_mm, bound = _width(look.width_mm, px_mm)
    return Defect(
        kind=line.kind,
        outline_mm=look.points_mm,
        length_mm=Reading(look.length_mm, 0.02 * look.length_mm + 0.3),
        width_um=Reading(1000 * width_mm, 1000 * sigma_mm),
        width_is_bound=bound,
        area_mm2=None,
        radius_min_mm=float(radius.min()),
        radius_max_mm=float(radius.max()),
        arc_deg=look.arc_deg,
        confidence=line.confidence,
    )


def _width(seen_mm: float, px_mm: float) -> tuple[float, float, bool]:
    """Width and its standard uncertainty; below two pixels only an upper bound, what is seen without the blur.

    Widths of a box and of a Gaussian blur add in squares; a sharp photo blurs by about one pixel and a half.
    """
    blur_mm = setting("damage", "blur_px") * px_mm
    width_mm = float(np.sqrt(max(seen_mm**2 - blur_mm**2, (0.3 * px_mm) ** 2)))
    bound = width_mm < 2 * px_mm
    return width_mm, 0.5 * px_mm if bound else 0.3 * px_mm, bound
