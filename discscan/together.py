"""Several photographs of one disc taken as one: turned alike by the disc's own marks, and their surveys fused."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from hashlib import sha256

import numpy as np

from discscan.calibration import limit, setting
from discscan.damage import scratch_density
from discscan.doubts import Doubt
from discscan.flatten.face import face_of
from discscan.flatten.grid import with_sight
from discscan.formats import data_area_mm
from discscan.grids import SCALE, seen_cells
from discscan.judged import JudgedDisc, JudgedPhoto
from discscan.match import (
    MIRROR,
    Band,
    Turn,
    View,
    band_of,
    fused,
    laid,
    laid_defect,
    laid_survey,
    light_agreement,
    likelihood_ratio,
    lines_to_find_mm,
    seen_by_any,
    turn_between,
)
from discscan.matches import AgainstLamp, MergedDisc, Source
from discscan.records import DamageSurvey, Defect, Face, FaceReading, FlatDisc, FloatArray, Given, LocatedDisc

JudgeSurvey = Callable[..., JudgedDisc]
_STILL = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])


@dataclass(frozen=True)
class Shown:
    """A disc in one photograph: the photograph's name and sha256, and which of its discs it is, from 1."""

    file: str
    sha256: str
    number: int
    disc: JudgedDisc

    @cached_property
    def band(self) -> Band:
        return band_of(self.disc.flat)

    def turned_from(self, first: Shown, *, may_lie_still: bool) -> tuple[Turn, float]:
        """The turn from another photograph's disc to this one, and the likelihood ratio of the two being one disc."""
        turn = turn_between(first.band, self.band, may_lie_still=may_lie_still)
        lines_mm = lines_to_find_mm([first.disc.survey, self.disc.survey])
        return turn, likelihood_ratio(turn, lines_mm=lines_mm)


@dataclass(frozen=True)
class _Joined:
    """A disc with the way into the plane of the first, (2, 3) mm to mm."""

    shown: Shown
    matrix: FloatArray
    ratio: float | None


def shown_in(judged: JudgedPhoto) -> list[Shown]:
    """The discs of one photograph; what they hold on to is the discs alone, not the photograph."""
    photo = judged.photo
    return [Shown(photo.name, photo.sha256, number, disc) for number, disc in enumerate(judged.discs, start=1)]


def merge_shown(
    shown: Sequence[Shown], *, given: Given, judge: JudgeSurvey, lamp: AgainstLamp | None = None
) -> MergedDisc | None:
    """One disc of all that its photographs show; None when none of them shows a disc.

    Those whose turn cannot be found stay out, and a doubt says so. Label sides join with what they show of its damage.

    Args:
        given: what the person says of the disc.
        lamp: a photograph of the disc held against a lamp.
        judge: from located disc, flat disc, face, survey and seed to a judged disc.
    """
    sides = [one for one in shown if one.disc.face.side != "label"]
    if not sides:
        return None
    first = max(sides, key=_clarity)
    joined, apart = _join(first, [one for one in sides if one is not first])
    labels = [one for one in shown if one.disc.face.side == "label"]

    flats = [laid(one.shown.disc.flat, one.matrix) for one in joined]
    flat = with_sight(first.disc.flat, *seen_by_any(flats))
    face = face_of(_mean_reading([one.shown.disc.located for one in joined]), given=given.format)
    survey = _survey(joined, flats, flat, face, apart=[one for one, _ in apart])
    wounds, turned_alike = _wounds(labels)
    survey = _with_wounds(survey, wounds, face, lamp) if wounds else survey
    survey = survey if lamp is None else _with_pinholes(survey, lamp)
    seed = int(sha256("".join(sorted(one.sha256 for one in shown)).encode()).hexdigest()[:12], 16)
    disc = judge(first.disc.located, flat, face, survey, seed=seed, polished=given.polished)
    sources = [_source(one.shown, one.matrix, one.ratio) for one in joined]
    sources += [_source(one, None, ratio) for one, ratio in apart]
    sources += [Source(one.file, one.number, "label", _wounded(one, turned_alike), None, None) for one in labels]
    return MergedDisc(disc, tuple(sources), tuple(flats), lamp)


def _join(first: Shown, others: list[Shown]) -> tuple[list[_Joined], list[tuple[Shown, float]]]:
    """Those that can be laid over the first, or over one that already is; and the rest with their best ratio."""
    joined = [_Joined(first, _STILL, None)]
    best = {id(one): 0.0 for one in others}
    for place in joined:  # grows as it is gone through
        for one in [one for one in others if all(one is not j.shown for j in joined)]:
            if one.disc.located.diameter_mm != first.disc.located.diameter_mm:
                continue
            turn, ratio = one.turned_from(place.shown, may_lie_still=True)
            best[id(one)] = max(best[id(one)], ratio)
            room = one.disc.face.side != "label" and _only_the_room(turn, place.shown, one)  # print is no mirror
            if turn.lead >= setting("match", "laid_lead") and not room:
                joined.append(_Joined(one, _after(turn.back, place.matrix), ratio))
    laid_over = {id(one.shown) for one in joined}
    return joined, [(one, best[id(one)]) for one in others if id(one) not in laid_over]


def _only_the_room(turn: Turn, one: Shown, other: Shown) -> bool:
    """Whether what agrees may be the room in the mirror: no turn, in unchanged light, which would show nothing new."""
    same_light = light_agreement(one.disc.flat, other.disc.flat) >= setting("match", "same_light")
    return turn.lies_still and same_light


def _after(first: FloatArray, then: FloatArray) -> FloatArray:
    """Two (2, 3) matrices as one."""
    return np.column_stack([then[:, :2] @ first[:, :2], then[:, :2] @ first[:, 2] + then[:, 2]])


def _survey(
    joined: list[_Joined], flats: list[FlatDisc], flat: FlatDisc, face: Face, *, apart: list[Shown]
) -> DamageSurvey:
    """What all show. A crack counts, also one in a photograph that stays apart: it condemns wherever it lies."""
    defects = fused(_views(joined, flats))
    defects += [one for shown in apart for one in shown.disc.survey.defects if one.kind == "crack"]
    inner_mm, outer_mm = data_area_mm(face.format, flat.diameter_mm)
    density = scratch_density(defects, seen_cells(flat), flat.px_per_mm * SCALE, inner_mm=inner_mm, outer_mm=outer_mm)
    doubts = joined[0].shown.disc.survey.doubts
    doubts += (Doubt.NOT_LAID_OVER,) if apart else ()
    return DamageSurvey(tuple(defects), density, flat.measured_fraction, doubts)


def _views(joined: list[_Joined], flats: list[FlatDisc]) -> list[View]:
    return [
        View(laid_survey(one.shown.disc.survey, one.matrix).defects, other.sight, other.px_per_mm)
        for one, other in zip(joined, flats, strict=True)
    ]


def _wounds(labels: list[Shown]) -> tuple[list[Defect], list[Shown]]:
    """What the photographs of a label show of its damage, as it lies seen from the data side, and which of them do.

    Their print turns them alike; how that lies over the data side is not known.
    """
    if not labels:
        return [], []
    first = max(labels, key=_clarity)
    joined, _ = _join(first, [one for one in labels if one is not first])
    found = fused(_views(joined, [laid(one.shown.disc.flat, one.matrix) for one in joined]))
    wounds = [laid_defect(one, MIRROR) for one in found if one.kind == "label_damage"]
    return wounds, [one.shown for one in joined]


def _with_wounds(survey: DamageSurvey, wounds: list[Defect], face: Face, lamp: AgainstLamp | None) -> DamageSurvey:
    """With the wounds of the label. Where a lamp was held behind them, those that go deep shine, as pinholes."""
    doubts = (*survey.doubts, Doubt.LABEL_TURN_UNKNOWN)
    if lamp is not None and lamp.doubt is None:
        wounds = [replace(one, reaches_data=limit("label_wound_dark").value) for one in wounds]
    elif "cd" in face.formats:
        doubts += (Doubt.LABEL_DEPTH_UNKNOWN,)
    return replace(survey, defects=(*survey.defects, *wounds), doubts=doubts)


def _with_pinholes(survey: DamageSurvey, lamp: AgainstLamp) -> DamageSurvey:
    doubts = (lamp.doubt,) if lamp.doubt else (Doubt.PINHOLE_TURN_UNKNOWN,) if lamp.pinholes else ()
    return replace(survey, defects=(*survey.defects, *lamp.pinholes), doubts=(*survey.doubts, *doubts))


def _clarity(one: Shown) -> float:
    """How much of a disc a photograph shows, and how sharply: all others are laid over the best."""
    return one.disc.flat.measured_fraction * one.disc.flat.sharpness


def _wounded(label: Shown, turned_alike: list[Shown]) -> bool:
    """Whether what a photograph of the label shows of its damage is in the merged disc."""
    wounded = any(defect.kind == "label_damage" for defect in label.disc.survey.defects)
    return wounded and any(label is one for one in turned_alike)


def _mean_reading(located: list[LocatedDisc]) -> FaceReading:
    """Each photograph reads the face on its own; their mean is wrong less often than any."""
    readings = [one.reading for one in located if one.reading is not None]
    means = [np.mean([getattr(one, field.name) for one in readings], axis=0) for field in fields(FaceReading)]
    disc, large, data, recordable, formats = means
    cd, dvd, bd = formats.tolist()
    return FaceReading(float(disc), float(large), float(data), float(recordable), (cd, dvd, bd))


def _source(one: Shown, matrix: FloatArray | None, ratio: float | None) -> Source:
    turn_deg = None if matrix is None else float(np.degrees(np.arctan2(-matrix[1, 0], matrix[0, 0]))) % 360
    return Source(one.file, one.number, one.disc.face.side, matrix is not None, turn_deg, ratio)
