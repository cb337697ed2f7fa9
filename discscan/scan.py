"""The way through: photo -> located discs -> flat discs -> damage -> playback, polish -> verdict -> report."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from functools import partial
from typing import Any

import numpy as np

from discscan.damage import damage_maps, survey_damage
from discscan.doubts import Doubt
from discscan.errors import UnreadablePhoto
from discscan.flatten.face import face_of
from discscan.flatten.grid import flatten_disc, with_cover
from discscan.flatten.unseen import light_from_deg, unseen_parts
from discscan.judged import JudgedDisc, JudgedPhoto, NextPhoto
from discscan.learn import with_learned
from discscan.lessons import Learned
from discscan.locate import locate_discs
from discscan.matches import MergedDisc
from discscan.photo import DEFAULT, PhotoLimits, by_disc, read_photo
from discscan.playback import after_polish, forecast, widening
from discscan.records import (
    Action,
    DamageSurvey,
    Face,
    FlatDisc,
    FormatName,
    LocatedDisc,
    Outlook,
    Photo,
    Playback,
    Polish,
    doubts_of,
)
from discscan.report import DiscReport, PhotoReport, Report, error_report, merged_report, photo_report, report
from discscan.together import Shown, merge_shown, shown_in
from discscan.verdict import could_become, decide
from discscan.weights import net

Source = str | os.PathLike[str] | bytes
OnPhoto = Callable[[PhotoReport, JudgedPhoto | None], None]
OnMerged = Callable[[DiscReport, MergedDisc], None]


def scan(
    sources: Source | Iterable[Source],
    *,
    format: FormatName | None = None,
    limits: PhotoLimits = DEFAULT,
    merge: bool = False,
    on_photo: OnPhoto | None = None,
    on_merged: OnMerged | None = None,
    learned: Learned | None = None,
) -> Report:
    """Judge the discs in photographs.

    Args:
        sources: a path or the bytes of a photograph, or several of them.
        format: what the person knows the discs to be; else it is guessed where the photograph allows.
        limits: on bytes and pixels, checked before decoding.
        merge: whether the photographs show one disc, to be judged once more from all of them together; a folder then
            stands for the photographs of one disc.
        on_photo: called after each photo with its record, and with the arrays behind it (None if unreadable): for
            pictures and progress, so that no photo need be held longer than its turn.
        on_merged: called with each merged disc's record, and with the arrays behind it.
        learned: from the user's own ledger: it recalibrates the chances, and the report names it.
    Returns:
        the report; a photo that cannot be read has its `error` set and the others are judged.
    """
    several: Iterable[Source] = [sources] if isinstance(sources, str | bytes | os.PathLike) else sources
    entries, merged = [], []
    for group in by_disc(several) if merge else [several]:
        shown: list[Shown] = []
        for source in group:
            entry, judged = _scan_photo(source, format, limits, learned)
            entries.append(entry)
            if on_photo is not None:
                on_photo(entry, judged)
            if merge and judged is not None:
                shown += shown_in(judged)
        together = merge_shown(shown, given=format, judge=partial(judge_survey, learned=learned)) if shown else None
        if together is not None:
            merged.append(merged_report(together))
            if on_merged is not None:
                on_merged(merged[-1], together)
    return report(entries, merged=merged if merge else None, learned=learned)


def _scan_photo(
    source: Source, format: FormatName | None, limits: PhotoLimits, learned: Learned | None
) -> tuple[PhotoReport, JudgedPhoto | None]:
    try:
        judged = judge_photo(read_photo(source, limits=limits), format=format, learned=learned)
    except UnreadablePhoto as error:
        return error_report(error), None
    return photo_report(judged), judged


def judge_photo(photo: Photo, *, format: FormatName | None = None, learned: Learned | None = None) -> JudgedPhoto:
    """Find and judge every disc in one photograph."""
    discs, turned_down = locate_discs(photo.bgr, locator=net("locator"), rings=net("rings"), reader=net("face"))
    return JudgedPhoto(photo, tuple(_judge_disc(photo, disc, discs, format, learned) for disc in discs), turned_down)


def _judge_disc(
    photo: Photo,
    located: LocatedDisc,
    all_discs: tuple[LocatedDisc, ...],
    given: FormatName | None,
    learned: Learned | None,
) -> JudgedDisc:
    flat = flatten_disc(photo.bgr, located, covered_by=_above(located, all_discs))
    assert located.reading is not None
    face = face_of(located.reading, given=given)
    damage = net("damage")
    maps = damage_maps(flat, damage)
    flat = with_cover(flat, maps.covered)
    survey = survey_damage(flat, face, maps, net=damage)
    return judge_survey(located, flat, face, survey, seed=int(photo.sha256[:12], 16), learned=learned)


def judge_survey(
    located: LocatedDisc,
    flat: FlatDisc,
    face: Face,
    survey: DamageSurvey,
    *,
    seed: int,
    learned: Learned | None = None,
) -> JudgedDisc:
    """From a survey, of one photograph or of several, to the verdict. `seed` is that of the forecast."""
    doubts = doubts_of(located, flat, face, survey)
    outlooks = {}
    if face.side != "label":
        case = {
            "survey": survey,
            "diameter_mm": located.diameter_mm,
            "widen": widening(doubts),
            "seed": seed,
            "recording": face.recording,
        }
        outlooks = {name: _outlook(name, case, learned) for name in face.formats}
    verdict, worst = decide(
        face=face, survey=survey, outlooks=outlooks, doubts=doubts, measured_fraction=flat.measured_fraction
    )
    playback, polish = (worst.playback, worst.polish) if worst else (None, None)

    def action_on(play: Playback, polished: Polish, left: tuple[Doubt, ...], measured: float) -> Action:
        then = {**outlooks, play.format: Outlook(play, polished)}
        return decide(face=face, survey=survey, outlooks=then, doubts=left, measured_fraction=measured)[0].action

    unseen = unseen_parts(flat)
    change = could_become(
        action=verdict.action,
        judge=action_on,
        playback=playback,
        polish=polish,
        doubts=doubts,
        measured_fraction=flat.measured_fraction,
    )
    next_photo = NextPhoto(unseen, light_from_deg(unseen), *change)
    return JudgedDisc(located, flat, face, survey, playback, polish, verdict, next_photo)


def _outlook(name: FormatName, case: dict[str, Any], learned: Learned | None) -> Outlook:
    playback = forecast(format=name, **case)
    polish = after_polish(format=name, before=playback, **case)
    return Outlook(*(with_learned(playback, polish, learned.lesson) if learned else (playback, polish)))


def _above(disc: LocatedDisc, others: tuple[LocatedDisc, ...]) -> tuple[LocatedDisc, ...]:
    """Discs that may lie over this one: of two that overlap, the one with more of its rim seen is on top."""

    def overlaps(other: LocatedDisc) -> bool:
        apart = np.hypot(disc.rim.cx - other.rim.cx, disc.rim.cy - other.rim.cy)
        return bool(apart < 0.5 * (disc.rim.axis_major + other.rim.axis_major))

    return tuple(o for o in others if o is not disc and overlaps(o) and o.rim_seen_fraction > disc.rim_seen_fraction)
