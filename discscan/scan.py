"""The way through: photo -> located discs -> flat discs -> damage -> playback, polish -> verdict -> report."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from discscan.damage import damage_maps, pinholes, survey_damage
from discscan.doubts import Doubt
from discscan.errors import BadTerms, UnreadablePhoto
from discscan.flatten.face import face_of
from discscan.flatten.grid import flatten_disc, with_cover
from discscan.flatten.unseen import light_from_deg, unseen_parts
from discscan.judged import JudgedDisc, JudgedPhoto, NextPhoto
from discscan.learn import with_learned
from discscan.lessons import Learned
from discscan.locate import locate_against_lamp, locate_discs
from discscan.matches import AgainstLamp, MergedDisc
from discscan.photo import DEFAULT, PhotoLimits, by_disc, read_photo
from discscan.playback import after_polish, forecast, shown_fraction, widening
from discscan.records import (
    NOTHING_SAID,
    Action,
    ByteImage,
    DamageSurvey,
    Face,
    FlatDisc,
    FormatName,
    Given,
    LocatedDisc,
    NotADisc,
    Outlook,
    Photo,
    doubts_of,
)
from discscan.report import DiscReport, PhotoReport, Report, error_report, merged_report, photo_report, report
from discscan.together import merge_shown, shown_in
from discscan.verdict import could_become, decide
from discscan.weights import net

Source = str | os.PathLike[str] | bytes
OnPhoto = Callable[[PhotoReport, JudgedPhoto | None], None]
OnMerged = Callable[[DiscReport, MergedDisc], None]


def scan(
    sources: Source | Iterable[Source],
    *,
    format: FormatName | None = None,
    polished: int = 0,
    limits: PhotoLimits = DEFAULT,
    merge: bool = False,
    lamp: Source | None = None,
    on_photo: OnPhoto | None = None,
    on_merged: OnMerged | None = None,
    learned: Learned | None = None,
) -> Report:
    """Judge the discs in photographs.

    Args:
        sources: a path or the bytes of a photograph, or several of them.
        format: what the person knows the discs to be; else it is guessed where the photograph allows.
        polished: how many polishes the discs have had: no photograph tells, and each has taken of what may go.
        limits: on bytes and pixels, checked before decoding.
        merge: whether the photographs show one disc, to be judged once more from all of them together; a folder then
            stands for the photographs of one disc.
        lamp: with `merge`, a photograph of the one disc held against a lamp: where light comes through, the mirror is
            gone. One that cannot be read stands among the photos with its error.
        on_photo: called after each photo with its record, and with the arrays behind it (None if unreadable): for
            pictures and progress, so that no photo need be held longer than its turn.
        on_merged: called with each merged disc's record, and with the arrays behind it.
        learned: from the user's own ledger: it recalibrates the chances, and the report names it.
    Returns:
        the report; a photo that cannot be read has its `error` set and the others are judged.
    """
    several: Iterable[Source] = [sources] if isinstance(sources, str | bytes | os.PathLike) else sources
    given = Given(format, polished)
    groups = by_disc(several) if merge else [several]
    if lamp is not None and not (merge and len(groups) == 1):
        raise BadTerms("A photo against the lamp shows one disc.", remedy="Name the photos of that disc, with --merge.")
    entries, merged = [], []

    def tell(entry: PhotoReport, judged: JudgedPhoto | None) -> None:
        entries.append(entry)
        if on_photo is not None:
            on_photo(entry, judged)

    def photos_of(group: Iterable[Source]) -> Iterator[JudgedPhoto]:
        for source in group:
            entry, judged = _scan_photo(source, given, limits, learned)
            tell(entry, judged)
            if judged is not None:
                yield judged

    for group in groups:
        if not merge:
            for _ in photos_of(group):
                pass  # told, and let go
            continue
        together = merge_photos(photos_of(group), given=given, learned=learned, lamp=_lamp(lamp, limits, tell))
        if together is not None:
            merged.append(merged_report(together))
            if on_merged is not None:
                on_merged(merged[-1], together)
    return report(entries, merged=merged if merge else None, learned=learned)


def merge_photos(
    photos: Iterable[JudgedPhoto], *, given: Given, learned: Learned | None = None, lamp: AgainstLamp | None = None
) -> MergedDisc | None:
    """One disc of the photographs that show it, judged once more; None when none of them shows a data side.

    Args:
        photos: may come one by one; what is kept of each is its discs alone.
    """
    shown = [one for photo in photos for one in shown_in(photo)]
    return merge_shown(shown, given=given, judge=partial(judge_survey, learned=learned), lamp=lamp)


def look_through(photo: Photo) -> AgainstLamp:
    """Where light comes through the mirror of the largest disc in a photograph of it held against a lamp."""
    discs, _ = _discs_in(photo.bgr)
    disc = max(discs, key=lambda one: one.rim.axis_major, default=None) or locate_against_lamp(photo.bgr)
    if disc is None:
        return AgainstLamp(photo.name, photo.sha256, doubt=Doubt.LAMP_NO_DISC)
    found = pinholes(flatten_disc(photo.bgr, disc))
    if found is None:
        return AgainstLamp(photo.name, photo.sha256, doubt=Doubt.LAMP_NOT_BEHIND)
    return AgainstLamp(photo.name, photo.sha256, found)


def _lamp(source: Source | None, limits: PhotoLimits, tell: OnPhoto) -> AgainstLamp | None:
    if source is None:
        return None
    try:
        return look_through(read_photo(source, limits=limits))
    except UnreadablePhoto as error:
        tell(error_report(error), None)
        return None


def _scan_photo(
    source: Source, given: Given, limits: PhotoLimits, learned: Learned | None
) -> tuple[PhotoReport, JudgedPhoto | None]:
    try:
        judged = judge_photo(read_photo(source, limits=limits), given=given, learned=learned)
    except UnreadablePhoto as error:
        return error_report(error), None
    return photo_report(judged), judged


def _discs_in(bgr: ByteImage) -> tuple[tuple[LocatedDisc, ...], tuple[NotADisc, ...]]:
    return locate_discs(bgr, locator=net("locator"), rings=net("rings"), face=net("face"))


def judge_photo(photo: Photo, *, given: Given = NOTHING_SAID, learned: Learned | None = None) -> JudgedPhoto:
    """Find and judge every disc in one photograph."""
    discs, turned_down = _discs_in(photo.bgr)
    return JudgedPhoto(photo, tuple(_judge_disc(photo, disc, discs, given, learned) for disc in discs), turned_down)


def _judge_disc(
    photo: Photo,
    located: LocatedDisc,
    all_discs: tuple[LocatedDisc, ...],
    given: Given,
    learned: Learned | None,
) -> JudgedDisc:
    flat = flatten_disc(photo.bgr, located, covered_by=_above(located, all_discs))
    assert located.reading is not None
    face = face_of(located.reading, given=given.format)
    maps = damage_maps(flat, face, net("damage"))
    flat = with_cover(flat, maps.covered)
    survey = survey_damage(flat, face, maps)
    seed = int(photo.sha256[:12], 16)
    return judge_survey(located, flat, face, survey, seed=seed, polished=given.polished, learned=learned)


def judge_survey(
    located: LocatedDisc,
    flat: FlatDisc,
    face: Face,
    survey: DamageSurvey,
    *,
    seed: int,
    polished: int = 0,
    learned: Learned | None = None,
) -> JudgedDisc:
    """From a survey, of one photograph or of several, to the verdict. `seed` is that of the forecast."""
    doubts = doubts_of(located, flat, face, survey)
    shown = shown_fraction(flat.measured_fraction, doubts)
    outlooks = {}
    if face.side != "label":
        case = {
            "survey": replace(survey, measured_fraction=shown),
            "diameter_mm": located.diameter_mm,
            "widen": widening(doubts),
            "seed": seed,
            "recording": face.recording,
        }
        outlooks = {name: _outlook(name, case, polished, learned) for name in face.formats}
    verdict, worst = decide(
        face=face, survey=survey, outlooks=outlooks, doubts=doubts, measured_fraction=flat.measured_fraction
    )
    playback, polish = (worst.playback, worst.polish) if worst else (None, None)

    def action_on(then: Mapping[FormatName, Outlook], left: tuple[Doubt, ...], measured: float) -> Action:
        return decide(face=face, survey=survey, outlooks=then, doubts=left, measured_fraction=measured)[0].action

    unseen = unseen_parts(flat)
    change = could_become(
        action=verdict.action,
        judge=action_on,
        outlooks=outlooks,
        doubts=doubts,
        shown_fraction=shown,
    )
    next_photo = NextPhoto(unseen, light_from_deg(unseen), *change)
    return JudgedDisc(located, flat, face, survey, playback, polish, verdict, next_photo)


def _outlook(name: FormatName, case: dict[str, Any], polished: int, learned: Learned | None) -> Outlook:
    playback = forecast(format=name, **case)
    polish = after_polish(format=name, before=playback, polished=polished, **case)
    return Outlook(*(with_learned(playback, polish, learned.lesson) if learned else (playback, polish)))


def _above(disc: LocatedDisc, others: tuple[LocatedDisc, ...]) -> tuple[LocatedDisc, ...]:
    """Discs that may lie over this one: of two that overlap, the one with more of its rim seen is on top."""

    def overlaps(other: LocatedDisc) -> bool:
        apart = np.hypot(disc.rim.cx - other.rim.cx, disc.rim.cy - other.rim.cy)
        return bool(apart < 0.5 * (disc.rim.axis_major + other.rim.axis_major))

    return tuple(o for o in others if o is not disc and overlaps(o) and o.rim_seen_fraction > disc.rim_seen_fraction)
