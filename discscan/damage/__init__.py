"""The flat disc -> defects in millimetres. Image processing alone, behind the interface a trained model can fill."""

from __future__ import annotations

from discscan.calibration import setting
from discscan.damage.filter import line_probability
from discscan.damage.kinds import lines_of
from discscan.damage.measure import look_at
from discscan.damage.trace import trace_lines
from discscan.doubts import Doubt
from discscan.formats import data_area_mm
from discscan.records import DamageSurvey, Defect, Face, FlatDisc

__all__ = ["survey_damage"]


def survey_damage(flat: FlatDisc, face: Face) -> DamageSurvey:
    """Find scratches, ring arcs and cracks on a data side.

    On a label side nothing is claimed: print cannot be told from scratches by a filter.

    Args:
        flat: the disc from straight above; only cells with `Sight.SEEN` are looked at.
        face: which side is up.
    """
    if face.side == "label":
        return DamageSurvey((), 0.0, flat.measured_fraction)
    inner_mm, outer_mm = data_area_mm("unknown" if face.format == "unknown" else face.format, flat.diameter_mm)
    margin_mm = setting("damage", "data_margin_mm")
    hub_mm = setting("damage", "hub_from_mm")
    probability = line_probability(flat, radius_min_mm=hub_mm, radius_max_mm=outer_mm - margin_mm)
    traces = trace_lines(probability, px_per_mm=flat.px_per_mm * probability.shape[0] / flat.sight.shape[0])
    px_mm = max(1.0 / flat.photo_px_per_mm, 1.0 / flat.px_per_mm)
    defects = lines_of(look_at(traces, flat), inner_mm=inner_mm + margin_mm, rim_mm=flat.diameter_mm / 2, px_mm=px_mm)
    defects.sort(key=lambda d: -d.confidence * (d.length_mm.value if d.length_mm else 0.0))
    most = int(setting("damage", "most_defects"))
    doubts = (Doubt.CLUTTERED,) if len(defects) > most else ()
    return DamageSurvey(tuple(defects[:most]), _density(defects, flat, inner_mm, outer_mm), flat.measured_fraction, doubts)


def _density(defects: list[Defect], flat: FlatDisc, inner_mm: float, outer_mm: float) -> float:
    """Centre-line length of scratches and ring arcs per measured data area, mm per cm2."""
    area_cm2 = 3.14159265 * (outer_mm**2 - inner_mm**2) / 100.0 * flat.measured_fraction
    length_mm = sum(d.length_mm.value for d in defects if d.kind in ("scratch", "ring_arc") and d.length_mm)
    return length_mm / area_cm2 if area_cm2 > 0.0 else 0.0


