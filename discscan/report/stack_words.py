"""Sentences about a stack of discs: what to do with each, where it lies, how far the work is."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence

from discscan.records import Action
from discscan.report import words
from discscan.report.reasons import FORMAT
from discscan.report.schema import DiscReport, PhotoReport

TODO: Mapping[Action, str] = {"resurface": "Polish", "play": "Sell", "retake": "Retake", "pass": "Pass"}
"""What to do with a disc, in the order in which a stack is gone through."""
TODO_MEANING: Mapping[Action, str] = {
    "resurface": "It may fail as it is, and a polish is likely to help.",
    "play": "Good enough as it is: to keep, or to sell with its damage told.",
    "retake": "The photo does not settle it: take another.",
    "pass": "More likely than not it fails, and a polish would not save it.",
}
TABLE_HEAD = (
    "disc", "file", "where", "to_do", "kind", "chance", "low", "high", "chance_polished", "measured_fraction",
    "reason", "sha256",
)  # fmt: skip
PICK_HEAD = ("No.", "What to do", "Where", "File", "Done")
CRACKED = "May be cracked: do not spin it."
NOTHING = "No photo is there yet."
RETAKES_WAIT = "Those to retake stay out until they are settled."
NO_PHOTO_FOLDER = "This is no folder of photos."
DECIDED = "Decided by hand"
AGREED = "Agreed"
OPEN = "Not looked at yet"
KEY: Mapping[Action, str] = {"resurface": "p", "play": "s", "retake": "r", "pass": "x"}
KEYS = "a: agree · p, s, r, x: polish, sell, retake, pass · u: undo · j, k: next, back"
TAKEN_BACK = "Taken back."
NO_SUCH_DISC = "This disc is not in the stack, or no longer."
NO_SUCH_TODO = "This is nothing that can be done with a disc. Choose polish, sell, retake or pass."
NONE_DECIDED = "No disc is decided that is not in the ledger already."


def where(*, photo: int, row: int, place: int, of: int) -> str:
    """Where a disc lies: "photo 3, row 1, place 2"; of a photo with one disc its number alone."""
    return f"photo {photo}" if of == 1 else f"photo {photo}, row {row}, place {place}"


def counts(sorts: Mapping[Action, Sequence[object]]) -> str:
    """ "12 to polish, 3 to sell"."""
    said = {"resurface": "to polish", "play": "to sell", "retake": "to retake", "pass": "to pass up"}
    return ", ".join(f"{len(sorts[action])} {said[action]}" for action in TODO if sorts.get(action))


def found(discs: int, photos: Sequence[PhotoReport], sorts: Mapping[Action, Sequence[object]]) -> list[str]:
    """How many discs in how many photos, and what to do with them; then what gave no answer."""
    if not photos:
        return [NOTHING]
    what = counts(sorts)
    head = f"{discs} {'disc' if discs == 1 else 'discs'} in {len(photos)} {'photo' if len(photos) == 1 else 'photos'}"
    return [f"{head}: {what}." if what else f"{head}.", *words.missing(photos)]


def progress(done: int, known: int, growing: int) -> str:
    """ "12 of 40 photos judged; 1 is still being written"."""
    said = f"{done} of {known} photos judged"
    return f"{said}; {growing} {'is' if growing == 1 else 'are'} still being written" if growing else said


def stopped(done: int, known: int) -> str:
    return f"Stopped; {progress(done, known, 0)}. The same command goes on from there."


def thumb_alt(disc: DiscReport, number: int) -> str:
    return f"Disc {number} from straight above: {words.VERDICT[disc.verdict.action]}."


def decision(action: Action, *, agreed: bool) -> str:
    """ "Agreed: polish", or "Decided by hand: sell"."""
    return f"{AGREED if agreed else DECIDED}: {TODO[action].lower()}"


def decided(count: int, of: int) -> str:
    return f"{count} of {of} discs decided."


def into_ledger(count: int) -> str:
    return f"{count} {'disc is' if count == 1 else 'discs are'} in the ledger now."


def table_row(disc: DiscReport | None, number: int | None, photo: PhotoReport, place: str) -> tuple[str, ...]:
    """Under `TABLE_HEAD`; `disc` is None for a photo without one, which is to be taken again."""
    if disc is None or number is None:
        reason = photo.error.message if photo.error is not None else words.NO_DISC
        return ("", photo.file, "", TODO["retake"].lower(), "", "", "", "", "", "", reason, photo.sha256 or "")
    play = (
        ("", "", "")
        if disc.playback is None
        else _plain(disc.playback.probability, disc.playback.low, disc.playback.high)
    )
    polish = "" if disc.resurfacing is None or not disc.resurfacing.possible else f"{disc.resurfacing.probability:g}"
    return (
        str(number), photo.file, place, TODO[disc.verdict.action].lower(),
        f"{disc.diameter_mm} mm {FORMAT[disc.format]}", *play, polish, f"{disc.measured_fraction:g}",
        words.deciding_reason(disc), photo.sha256 or "",
    )  # fmt: skip


def table(rows: Iterable[tuple[str, ...]]) -> str:
    """The rows as CSV (RFC 4180)."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(TABLE_HEAD)
    writer.writerows(rows)
    return text.getvalue()


def _plain(*numbers: float) -> tuple[str, ...]:
    return tuple(f"{number:g}" for number in numbers)
