"""From what the rooms found to the records of the report."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from importlib.metadata import PackageNotFoundError, version
from math import radians
from typing import Any

from discscan.calibration import calibration_sha256
from discscan.doubts import Doubt
from discscan.errors import DiscscanError
from discscan.judged import JudgedDisc, JudgedPhoto
from discscan.lessons import Learned
from discscan.matches import MergedDisc
from discscan.records import Chance, Defect, Ellipse, Kind, Polish, Reading, Spoken
from discscan.report.next_photo import next_photo_report
from discscan.report.reasons import caution, polish_why, reason
from discscan.report.schema import (
    REPORT_VERSION,
    ChanceReport,
    DefectReport,
    DiscReport,
    DoubtReport,
    EllipseReport,
    ErrorReport,
    LampReport,
    LearnedReport,
    PhotoReport,
    PlaybackReport,
    PolishesReport,
    RadiusBandReport,
    ReasonReport,
    Report,
    ResurfacingReport,
    SourceReport,
    TurnedDownReport,
    VerdictReport,
)
from discscan.weights import weights_sha256

WORST_KIND_FIRST: tuple[Kind, ...] = (
    "crack", "delamination", "ring_arc", "scratch", "label_damage", "smudge", "dust",
)  # fmt: skip


def ranked(defects: Iterable[Defect]) -> list[Defect]:
    """The most important defect first: by kind, then by how far it runs along the track, then by its area.

    Pictures, tables and the document number the defects in this order.
    """
    return sorted(defects, key=_importance)


def report(
    photos: Sequence[PhotoReport], *, merged: Sequence[DiscReport] | None = None, learned: Learned | None = None
) -> Report:
    """The document over all photographs, stamped with what judged them."""
    return Report(
        report_version=REPORT_VERSION,
        discscan_version=discscan_version(),
        calibration_sha256=calibration_sha256(),
        weights_sha256=weights_sha256(),
        learned=None if learned is None else _learned(learned),
        photos=list(photos),
        merged=None if merged is None else list(merged),
    )


def _learned(learned: Learned) -> LearnedReport:
    lesson = learned.lesson
    return LearnedReport(
        file=learned.file,
        sha256=learned.sha256,
        day=lesson.day.isoformat(),
        cases=lesson.cases,
        played=lesson.played,
        recalibration=None if lesson.curve is None else lesson.curve.method,
        polishes=[
            PolishesReport(
                kind=one.kind, format=one.format, cases=one.helped.cases, helped=one.helped.happened,
                expected=ChanceReport(probability=one.helped.mean, low=one.helped.low, high=one.helped.high),
            )
            for one in lesson.polish
        ],
    )  # fmt: skip


def photo_report(judged: JudgedPhoto) -> PhotoReport:
    """The record of one judged photograph."""
    discs = [disc_report(disc) for disc in judged.discs]
    return PhotoReport(
        file=judged.photo.name,
        sha256=judged.photo.sha256,
        width_px=judged.photo.width_px,
        height_px=judged.photo.height_px,
        sharpness=min((disc.sharpness for disc in discs), default=None),
        glare_fraction=max((disc.glare_fraction for disc in discs), default=None),
        error=None,
        discs=discs,
        turned_down=[TurnedDownReport(outer_ellipse_px=_ellipse(one.rim), why=one.why) for one in judged.turned_down],
    )


def error_report(error: DiscscanError, *, sha256: str | None = None) -> PhotoReport:
    """The record of a photograph that could not be read."""
    message = f"{error.what} {error.remedy}".strip()
    return PhotoReport(
        file=error.file, sha256=sha256, width_px=None, height_px=None, sharpness=None, glare_fraction=None,
        error=ErrorReport(code=error.code, message=message), discs=[], turned_down=[],
    )  # fmt: skip


def disc_report(disc: JudgedDisc, *, worth: dict[str, Any] | None = None) -> DiscReport:
    """The record of one judged disc."""
    located, flat, face, survey, verdict = disc.located, disc.flat, disc.face, disc.survey, disc.verdict
    return DiscReport.model_validate(
        {
            "diameter_mm": located.diameter_mm,
            "outer_ellipse_px": _ellipse(located.rim),
            "hole_ellipse_px": _ellipse(located.hole),
            "homography_px_to_mm": located.homography_px_to_mm.tolist(),
            "mm_per_px": located.mm_per_px,
            "tilt_deg": located.tilt_deg,
            "side": face.side,
            "side_confidence": face.side_confidence,
            "recording": face.recording,
            "format": face.format,
            "format_source": face.format_source,
            "formats_possible": list(face.formats),
            "sharpness": flat.sharpness,
            "glare_fraction": flat.glare_fraction,
            "measured_fraction": survey.measured_fraction,
            "scratch_density_mm_per_cm2": survey.scratch_density_mm_per_cm2,
            "defects": [defect_report(defect) for defect in ranked(survey.defects)],
            "playback": _playback(disc),
            "resurfacing": None if disc.polish is None else _resurfacing(disc.polish),
            "verdict": VerdictReport(
                action=verdict.action,
                reasons=[_reason(spoken) for spoken in verdict.spoken],
                cautions=[caution(name) for name in verdict.cautions],
            ),
            "next_photo": None
            if disc.next_photo is None
            else next_photo_report(disc.next_photo, action=verdict.action, side=face.side, rule=verdict.spoken[0].rule),
            "doubts": [_doubt(doubt) for doubt in disc.doubts],
            "worth": worth,
        }
    )


def merged_report(merged: MergedDisc) -> DiscReport:
    """The record of several photographs of one disc taken as one."""
    sources = [
        SourceReport(
            file=one.file, disc=one.number, side=one.side, joined=one.joined, turn_deg=one.turn_deg,
            likelihood_ratio=one.likelihood_ratio,
        )
        for one in merged.sources
    ]  # fmt: skip
    lamp = None
    if (one := merged.lamp) is not None:
        lamp = LampReport(file=one.file, sha256=one.sha256, used=one.doubt is None, pinholes=len(one.pinholes))
    return disc_report(merged.disc).model_copy(update={"merged_from": sources, "lamp": lamp})


def discscan_version() -> str:
    """As installed, or "unknown" when run from a bare checkout."""
    try:
        return version("discscan")
    except PackageNotFoundError:
        return "unknown"


def _importance(defect: Defect) -> tuple[int, float, float]:
    along_mm = radians(defect.arc_deg) * (defect.radius_min_mm + defect.radius_max_mm) / 2
    area_mm2 = defect.area_mm2.value if defect.area_mm2 else 0.0
    return WORST_KIND_FIRST.index(defect.kind), -along_mm * defect.confidence, -area_mm2


def _ellipse(ellipse: Ellipse) -> EllipseReport:
    return EllipseReport(
        cx=ellipse.cx, cy=ellipse.cy, axis_major=ellipse.axis_major, axis_minor=ellipse.axis_minor,
        angle_deg=ellipse.angle_deg,
    )  # fmt: skip


def defect_report(defect: Defect) -> DefectReport:
    """The record of one defect."""
    return DefectReport(
        kind=defect.kind,
        outline_mm=[(x, y) for x, y in defect.outline_mm.tolist()],
        length_mm=_value(defect.length_mm),
        length_sigma_mm=_sigma(defect.length_mm),
        width_um=_value(defect.width_um),
        width_sigma_um=_sigma(defect.width_um),
        width_is_bound=defect.width_is_bound,
        area_mm2=_value(defect.area_mm2),
        area_sigma_mm2=_sigma(defect.area_mm2),
        radius_min_mm=defect.radius_min_mm,
        radius_max_mm=defect.radius_max_mm,
        arc_deg=defect.arc_deg,
        confidence=defect.confidence,
        see_through=defect.see_through,
    )


def _playback(disc: JudgedDisc) -> PlaybackReport | None:
    playback = disc.playback
    if playback is None:
        return None
    return PlaybackReport(
        format=playback.format,
        probability=playback.chance.probability,
        low=playback.chance.low,
        high=playback.chance.high,
        worst_burst_mm=playback.worst_burst_mm,
        correctable_burst_mm=playback.correctable_burst_mm,
        unreadable_fraction=playback.unreadable_fraction,
        worst_radius_mm=playback.worst_radius_mm,
        unreadable_by_radius=[
            RadiusBandReport(
                radius_min_mm=band.radius_min_mm,
                radius_max_mm=band.radius_max_mm,
                unreadable_fraction=band.unreadable_fraction,
            )
            for band in playback.unreadable_by_radius
        ],
        before_learning=_chance(playback.before_learning),
    )


def _resurfacing(polish: Polish) -> ResurfacingReport:
    chance = polish.chance
    return ResurfacingReport(
        possible=polish.possible, probability=chance.probability, low=chance.low, high=chance.high,
        why=polish_why(polish), polished=polish.polished, may_go_um=polish.may_go_um,
        before_learning=_chance(polish.before_learning),
    )  # fmt: skip


def _chance(chance: Chance | None) -> ChanceReport | None:
    return None if chance is None else ChanceReport(probability=chance.probability, low=chance.low, high=chance.high)


def _reason(spoken: Spoken) -> ReasonReport:
    return ReasonReport(
        rule=spoken.rule, action=spoken.action, text=reason(spoken), value=spoken.value, limit=spoken.limit
    )


def _doubt(doubt: Doubt) -> DoubtReport:
    return DoubtReport(code=doubt.name.lower(), wrong=doubt.value.wrong, remedy=doubt.value.remedy)


def _value(reading: Reading | None) -> float | None:
    return None if reading is None else reading.value


def _sigma(reading: Reading | None) -> float | None:
    return None if reading is None else reading.sigma
