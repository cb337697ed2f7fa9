"""Every sentence about what was learned from the ledger. How many cases is always said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from discscan.lessons import Band, Lesson, PolishLesson, Share
from discscan.report.money_words import counted
from discscan.report.reasons import FORMAT
from discscan.report.words import KIND

BANDS_HEAD = ("Forecast", "Tested", "Played", "To expect", "9 times in 10")
POLISH_HEAD = ("Damage", "Format", "Polished", "Helped", "To expect", "9 times in 10")
NOTHING = "Nothing was learned yet. Learn from your ledger with: discscan learn."
FORGOTTEN = "What was learned is deleted. The ledger keeps every case: `discscan learn` learns it again."
DIAGRAM_TITLE = "Was the forecast right?"
DIAGRAM_ACROSS = "Chance forecast"
DIAGRAM_UP = "Share that played"


def lesson_lines(lesson: Lesson) -> Iterator[str]:
    """What is known of the forecast, and how well."""
    if not lesson.cases:
        yield "No disc of the ledger was scanned and then tested: too few to tell whether the forecast is right."
        return
    yield f"{counted(lesson.cases, 'disc')} tested after a scan; {lesson.played} played. Learned on {lesson.day}."
    if not lesson.enough:
        yield (
            f"Too few to tell whether the forecast is right: that takes {lesson.least_cases} discs, at least "
            f"{lesson.least_of_each} that played and {lesson.least_of_each} that did not."
        )
    if lesson.scores is not None:
        found = lesson.scores
        yield (
            f"Brier score {found.brier:.3f} over {counted(lesson.cases, 'disc')} (0 is best): reliability "
            f"{found.reliability:.3f} (0 is best), resolution {found.resolution:.3f} (more is better), uncertainty "
            f"{found.uncertainty:.3f} (of the discs themselves), within bands {found.within:+.3f}."
        )
        yield f"Forecast and outcome are {found.calibration_error:.2f} apart on average; too much where cases are few."
    yield _recalibration(lesson)


def _recalibration(lesson: Lesson) -> str:
    if lesson.brier_after is None or lesson.scores is None:
        return ""
    outcome = f"Brier score {lesson.brier_after:.3f} on discs that it was not fitted to"
    if lesson.curve is None:
        return f"A recalibrated forecast would be no better ({outcome}): the forecast is left as it is."
    return f"A recalibrated forecast ({lesson.curve.method}) is better: {outcome}."


def band_rows(bands: Sequence[Band]) -> list[tuple[str, ...]]:
    """Under `BANDS_HEAD`; bands without a case are left out."""
    return [
        (f"{one.low:.0%} to {one.high:.0%}", str(one.played.cases), *_share(one.played))
        for one in bands
        if one.played.cases
    ]


def polish_rows(lessons: Sequence[PolishLesson]) -> list[tuple[str, ...]]:
    """Under `POLISH_HEAD`."""
    return [
        (
            KIND[one.kind][0] if one.kind is not None else "not known",
            FORMAT[one.format] if one.format != "unknown" else "not known",
            str(one.helped.cases),
            *_share(one.helped),
        )
        for one in lessons
    ]


def polish_line(lessons: Sequence[PolishLesson]) -> str:
    """What the polish rows rest on."""
    count = sum(one.helped.cases for one in lessons)
    if not count:
        return "No polish with a known outcome: too few to tell."
    priors = "What is to be expected weighs them with the trade's own rule, which has no source."
    return f"{'1 polish' if count == 1 else f'{count} polishes'} with a known outcome. {priors}"


def use_line(lesson: Lesson) -> str:
    """Whether it is in use."""
    if not lesson.in_use:
        return "Switched off."
    if lesson.curve is None:
        return "No forecast is changed by it."
    return "In use: scans from now on recalibrate their chances by it, and their reports say so."


def used_line(lesson: Lesson) -> str:
    """Said by a scan that goes by it."""
    return f"Chances are recalibrated by {counted(lesson.cases, 'disc')} of your own ledger, learned on {lesson.day}."


def _share(share: Share) -> tuple[str, str, str]:
    return str(share.happened), f"{share.mean:.0%}", f"{share.low:.0%} to {share.high:.0%}"
