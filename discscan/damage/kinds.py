"""Which kind each line is: a crack, a ring arc, a scratch; or a hair, a lamp's streak, or a scratch's mirror image."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from discscan.calibration import setting
from discscan.damage.areas import area_defect, outlined
from discscan.damage.maps import DamageMaps
from discscan.damage.measure import LineLook, look_at
from discscan.damage.rings import amid_arcs, arcs_among, parted
from discscan.damage.streaks import streaks
from discscan.damage.trace import Trace, means_along
from discscan.damage.twins import without_twins
from discscan.formats import FORMATS
from discscan.grids import face_mm, mirror_mm
from discscan.records import Defect, FlatDisc, FloatArray, FormatName, Kind, Reading


@dataclass(frozen=True)
class Line:
    """A line with its kind and how sure that is, 0..1."""

    look: LineLook
    kind: Kind
    confidence: float


def judge_lines(
    traces: list[Trace],
    cracks: list[Trace],
    flat: FlatDisc,
    maps: DamageMaps,
    formats: Sequence[FormatName],
) -> list[Line]:
    """Cracks, ring arcs and scratches among the traces of one disc, which may be of any of these formats.

    Cracks are looked for from hole to rim, marks in the surface only where the mirror is: through the clear hub one
    sees the table, and the rim is full of lines of its own.
    """
    inner_mm, outer_mm = mirror_mm(flat.diameter_mm)
    least = setting("damage", "least_trace_mm")
    pieces = parted([part for trace in traces for part in trace.within(inner_mm, outer_mm)])
    broken = _breaks(cracks, flat, maps)
    looks = look_at(broken + pieces, flat)
    plain = setting("damage", "crack_levels")
    found = [Line(look, "crack", look.probability) for look in looks[: len(broken)] if look.contrast >= plain]
    marks = looks[len(broken) :]
    hairs = _hairs(pieces, marks, maps, least=setting("damage", "level.hair"))
    lines = [
        Line(look, "dust" if hair else "scratch", look.probability)
        for look, hair, streak in zip(marks, hairs, streaks(marks), strict=True)
        if not streak and look.length_mm >= least  # a hook at a line's end is longer in its trace
    ]
    lines = with_arcs(lines, sure=setting("damage", "level.ring"))
    return without_twins(found + lines, _image_shifts_mm(flat, formats))


def _hairs(pieces: list[Trace], looks: list[LineLook], maps: DamageMaps, *, least: float) -> list[bool]:
    """Which lines are bent and, as the net has it, dust with this probability at least."""
    bent = [k for k, look in enumerate(looks) if is_bent(look)]
    dust = means_along([pieces[k] for k in bent], maps.dust, px_per_mm=maps.px_per_mm)
    hairs = {k for k, mean in zip(bent, dust, strict=True) if mean >= least}
    return [k in hairs for k in range(len(looks))]


def with_arcs(lines: list[Line], *, sure: float) -> list[Line]:
    """The lines with ring arcs told as such, and without rings that the disc was made with: those hardly show.

    Args:
        sure: probability from which on a ring is an arc however little it shows.
    """
    levels = setting("damage", "ring_levels")
    looks = [line.look for line in lines]
    told: dict[int, bool] = {}
    for arc in arcs_among(looks):
        length_mm = [looks[k].length_mm for k in arc]
        contrast = np.average([looks[k].contrast for k in arc], weights=length_mm)
        shows = contrast >= levels or any(lines[k].confidence >= sure for k in arc)
        told |= dict.fromkeys(arc, shows)
    amid = amid_arcs(looks, [k for k, shows in told.items() if shows])
    told |= {k: True for k in amid if k not in told}
    return [replace(line, kind="ring_arc") if k in told else line for k, line in enumerate(lines) if told.get(k, True)]


def _image_shifts_mm(flat: FlatDisc, formats: Sequence[FormatName]) -> list[FloatArray]:
    towards = np.array(flat.towards_camera)
    sine = float(np.hypot(*towards))
    if sine == 0.0:
        return []
    return [towards / sine * FORMATS[name].image_shift_mm(min(sine, 1.0)) for name in formats]


def _breaks(cracks: list[Trace], flat: FlatDisc, maps: DamageMaps) -> list[Trace]:
    """Those that the net calls cracks rather than scratches or hairs: what runs over an edge looks like a break of it.

    Plastic breaks from an edge. Where that is hidden by glare or a glint, what is seen must be longer and surer. A few
    pixels of the photograph may be a lamp's glint in the moulded hub. Of a disc in pieces many breaks show, none of
    which needs to be sure by itself.
    """
    plain_mm = setting("damage", "least_crack_px") / flat.photo_px_per_mm
    lines, dust = (means_along(cracks, level, px_per_mm=maps.px_per_mm) for level in (maps.line, maps.dust))
    found, hints = [], []
    for crack, line, hair in zip(cracks, lines, dust, strict=True):
        lead = crack.probability.mean() - line - hair
        where = "" if _from_edge(crack, diameter_mm=flat.diameter_mm) else "_amid"
        long = crack.length_mm >= max(setting("damage", f"least_crack{where}_mm"), plain_mm)
        if long and lead >= setting("damage", f"level.crack{where}"):
            found.append(crack)
        if crack.length_mm >= setting("damage", "least_crack_mm") and lead >= setting("damage", "level.crack_hint"):
            hints.append(crack)
    several = len(hints) >= setting("damage", "pieces_cracks")
    far = sum(crack.length_mm for crack in hints) >= setting("damage", "pieces_cracks_mm")
    return hints if several and far else found


def _from_edge(trace: Trace, *, diameter_mm: int) -> bool:
    """Whether a line begins at the hole or at the rim."""
    radius = np.hypot(*trace.points_mm.T)
    reach = setting("damage", "crack_start_mm")
    innermost_mm, outermost_mm = face_mm(diameter_mm)
    return bool(radius.min() < innermost_mm + reach or radius.max() > outermost_mm - reach)


def is_bent(look: LineLook) -> bool:
    """Bent more than a scratch is: hands and grit draw nearly straight lines, hairs and lint curl."""
    sagitta = look.bend_per_mm * look.length_mm**2 / 8
    return look.bend_per_mm > 1 / setting("damage", "hair_radius_mm") and sagitta > setting("damage", "hair_sagitta_mm")


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
    width_mm = _widest_mm(look.width_mm, px_mm)
    return Defect(
        kind=line.kind,
        outline_mm=look.points_mm,
        length_mm=Reading(look.length_mm, 0.02 * look.length_mm + 0.3),
        width_um=Reading(1000 * width_mm, 500 * px_mm),
        width_is_bound=True,
        area_mm2=None,
        radius_min_mm=float(radius.min()),
        radius_max_mm=float(radius.max()),
        arc_deg=look.arc_deg,
        confidence=line.confidence,
    )


def _widest_mm(seen_mm: float, px_mm: float) -> float:
    """The width that a line has at most: what is seen without the blur, and no less than two pixels.

    It is no measurement. A groove is seen twice, beside itself in the mirror, over a ground of reflections: on rendered
    photographs (seed 9500, 373 lines) what is seen does not rise with the true width, and is ten times as much. Widths
    of a box and of a Gaussian blur add in squares; a sharp photo blurs by about one pixel and a half.
    """
    blur_mm = setting("damage", "blur_px") * px_mm
    return max(2 * px_mm, float(np.sqrt(max(seen_mm**2 - blur_mm**2, 0.0))))
