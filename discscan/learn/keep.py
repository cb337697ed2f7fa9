"""The user's own file of what was learned, beside the book that it was learned from."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from discscan.errors import CannotWrite, UnreadableTable
from discscan.lessons import Learned, Lesson

_LESSON = TypeAdapter(Lesson)


def place_of(book: Path) -> Path:
    """ "ledger.sqlite" has "ledger.learned.json" beside it."""
    return book.with_suffix(".learned.json")


def write_lesson(lesson: Lesson, place: Path) -> None:
    """Raises CannotWrite when the file cannot be written."""
    fresh = place.with_name(f"{place.name}.new")
    try:
        fresh.write_bytes(_LESSON.dump_json(lesson, indent=1) + b"\n")
        fresh.replace(place)  # at once, so that a scan beside it never reads half a file
    except OSError as error:
        raise _cannot(place, error) from error


def read_lesson(place: Path) -> Lesson | None:
    """What was learned, None where nothing was.

    Raises:
        UnreadableTable: there is a file, and it cannot be read.
    """
    try:
        return _LESSON.validate_json(place.read_bytes())
    except FileNotFoundError:
        return None
    except (OSError, ValidationError) as error:
        raise UnreadableTable(
            "What was learned cannot be read.",
            file=str(place),
            remedy="Learn anew with `discscan learn`, or drop it with `discscan learn --forget`.",
        ) from error


def lesson_in_use(place: Path) -> Learned | None:
    """What later scans go by; None where nothing was learned, or it is switched off. Raises as `read_lesson`."""
    lesson = read_lesson(place)
    if lesson is None or not lesson.in_use:
        return None
    return Learned(file=place.name, sha256=sha256(place.read_bytes()).hexdigest(), lesson=lesson)


def forget_lesson(place: Path) -> bool:
    """Delete the file; False where there was none. Raises CannotWrite when it cannot be deleted."""
    try:
        place.unlink()
    except FileNotFoundError:
        return False
    except OSError as error:
        raise _cannot(place, error) from error
    return True


def _cannot(place: Path, error: OSError) -> CannotWrite:
    return CannotWrite(
        f"It cannot be written: {error.strerror}.", file=str(place), remedy="Make room there, or let it be written."
    )
