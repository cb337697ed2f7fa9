"""The same disc? Two photographs held against one another: a return, or before and after a polish."""

from __future__ import annotations

from discscan.calibration import limit, setting
from discscan.errors import NoDisc
from discscan.judged import JudgedPhoto
from discscan.match import (
    MarksOfTwo,
    Turn,
    View,
    agree_unturned,
    answer_of,
    laid,
    laid_survey,
    lines_to_find_mm,
    marks_of_two,
)
from discscan.matches import Comparison, SameAnswer
from discscan.photo import DEFAULT, PhotoLimits, read_photo
from discscan.scan import Source, judge_photo
from discscan.together import Shown, shown_in


def same(first: Source, second: Source, *, limits: PhotoLimits = DEFAULT) -> Comparison:
    """Tell whether two photographs of data sides show one disc.

    Args:
        first, second: a path or the bytes of a photograph; of several discs in one, the largest counts.
        limits: on bytes and pixels, checked before decoding.
    Raises:
        UnreadablePhoto: one of them cannot be read, or holds no disc.
    """
    one, other = (_largest(judge_photo(read_photo(source, limits=limits))) for source in (first, second))
    stands_in_the_way = _hindrance(one, other)
    if stands_in_the_way:
        return _answered("cannot tell", stands_in_the_way, None, one, other, None)
    if one.disc.located.diameter_mm != other.disc.located.diameter_mm:
        return _answered("another", "other-size", None, one, other, None)
    turn, ratio = other.turned_from(one, may_lie_still=False)
    answer = answer_of(ratio)
    if answer == "same":
        return _answered("same", "marks-agree", ratio, one, other, turn)
    if agree_unturned(one.band, other.band):
        return _answered("cannot tell", "lies-still", None, one, other, None)
    if answer == "another":
        return _answered("another", "marks-differ", ratio, one, other, None)
    few = lines_to_find_mm([one.disc.survey, other.disc.survey]) < setting("match", "few_lines_mm")
    return _answered("cannot tell", "too-few-marks" if few else "not-sure", ratio, one, other, None)


def _largest(judged: JudgedPhoto) -> Shown:
    if not judged.discs:
        raise NoDisc(
            "No disc was found in it.",
            file=judged.photo.name,
            remedy="Photograph the disc alone, whole in the picture, data side up.",
        )
    return max(shown_in(judged), key=lambda shown: shown.disc.located.rim.axis_major)


def _hindrance(one: Shown, other: Shown) -> str:
    """What forbids an answer before anything is compared, or ""."""
    if one.sha256 == other.sha256:
        return "one-photo"
    if "label" in (one.disc.face.side, other.disc.face.side):
        return "label-side"
    least = limit("min_measured_fraction").value
    if min(one.disc.flat.measured_fraction, other.disc.flat.measured_fraction) < least:
        return "little-seen"
    return ""


def _answered(
    answer: SameAnswer, why: str, ratio: float | None, one: Shown, other: Shown, turn: Turn | None
) -> Comparison:
    first, second = one.disc.flat, other.disc.flat
    marks = MarksOfTwo((), (), ())
    if turn is not None:
        second = laid(second, turn.back)
        shown = laid_survey(other.disc.survey, turn.back)
        marks = marks_of_two(
            View(one.disc.survey.defects, first.sight, first.px_per_mm),
            View(shown.defects, second.sight, second.px_per_mm),
            bands=(one.band, other.band),
            turn=turn,
        )
    return Comparison(
        answer=answer,
        likelihood_ratio=ratio,
        why=why,
        turn_deg=None if turn is None else turn.turn_deg,
        both=marks.both,
        only_first=marks.only_first,
        only_second=marks.only_second,
        first=first,
        second=second,
    )
