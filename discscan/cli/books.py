"""The ledger's commands at work."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from datetime import date
from hashlib import sha256
from pathlib import Path
from typing import Any

from discscan.cli.layout import columns, put_lines
from discscan.cli.streams import put, put_file, say, tell_faults
from discscan.deals import Fault
from discscan.errors import BadTerms, NoSuchItem
from discscan.events import Event
from discscan.ledger import (
    Book,
    copy_photos,
    correction_of,
    from_table,
    items_of,
    keep_photo,
    matching_items,
    named_items,
    next_event,
    one_item,
    photos_of,
    read_back,
    read_entries,
    read_ranges,
    summarise,
    to_csv,
    to_json,
    undo_of,
)
from discscan.places import book_place
from discscan.report import ledger_words as words
from discscan.report.checks import check_lines
from discscan.report.forecasts import read_discs
from discscan.report.kept import KeptPhoto, photos_in
from discscan.report.listing import listing as words_for_sale
from discscan.report.same import same_lines


def write(place: str | None, kind: Any, *, what: str, day: date, **details: Any) -> None:
    def make(known: Sequence[Event]) -> list[Event]:
        return [next_event(kind, what=what, day=day, items=items_of(known), **details)]

    with opened(place) as book:
        (event,) = book.add(make)
        (item,) = (item for item in items_of(book.events()) if item.events[0].key == event.item)
        put(f"{words.written(event, item)}\n")


def scanned(
    place: str | None, what: str, *, report: Path, disc: int | None, photos: Sequence[Path], day: date, note: str
) -> None:
    """A scan: its photos are kept first, so that what is acknowledged is there."""
    document = document_of(report, disc)
    folder, named = photos_of(book_place(place)), {}
    for path in photos:
        with suppress(OSError):
            data = path.read_bytes()
            named[sha256(data).hexdigest()] = data
    gone = []
    for photo in photos_in(document):
        found = named.pop(photo.sha256 or "", None) or _photo_of(photo, beside=report)
        if found is None:
            gone.append(photo.file)
        else:
            keep_photo(folder, found)
    if named:
        raise BadTerms("A photo that is named is none of those that were judged.", remedy="Scan it anew.")
    write(place, "scanned", what=what, day=day, document=document, note=note)
    for file in gone:
        say(words.photo_not_kept(file))


def polishes_of(what: str) -> int:
    """How often the book that is in use has an item polished. Raises NoSuchItem."""
    with opened(os.environ.get("DISCSCAN_BOOK")) as book:
        item = one_item(what, items_of(book.events()))
    return sum(event.kind == "polished" for event in item.events)


def _photo_of(photo: KeptPhoto, *, beside: Path) -> bytes | None:
    """The bytes that were judged, of the file that the report names; None where it is gone or was changed."""
    for path in (Path(photo.file), beside.parent / photo.file):
        with suppress(OSError, ValueError):
            data = path.read_bytes()
            if sha256(data).hexdigest() == photo.sha256:
                return data
    return None


def barcode_in(photo: Path) -> str:
    """Raises BadTerms where no barcode is read."""
    from discscan.photo import read_barcode, read_photo

    code = read_barcode(read_photo(photo))
    if code is None:
        raise BadTerms(
            "No barcode could be read in it.", file=str(photo), remedy="Go closer, straight above, or type its number."
        )
    return code


def tested(
    place: str | None,
    what: str,
    *,
    plays: bool | None,
    unreadable: Path | None,
    format: Any,
    picture: Path | None,
    day: date,
    note: str,
) -> None:
    """A play test, by its outcome or by the sectors that could not be read."""
    if unreadable is None:
        if picture is not None:
            raise BadTerms("There is nothing to draw.", remedy="Name the unreadable sectors with --unreadable.")
        if plays is None:
            raise BadTerms(
                "Nothing says how the test went.", remedy="Say --plays or --fails, or name a list with --unreadable."
            )
        write(place, "tested", what=what, day=day, good=plays, note=note)
        return
    ranges = read_ranges(unreadable)
    if plays and ranges:
        raise BadTerms("It holds unreadable sectors.", file=str(unreadable), remedy="Leave --plays away.")
    with opened(place) as book:
        item = one_item(what, items_of(book.events()))
    found = read_back(ranges, item=item, format=format)
    if picture is not None:  # before anything is written, so that a mistake in its name changes nothing
        from discscan.cli.pictures import draw_readback

        draw_readback(found, item, photos=photos_of(book_place(place)), out=picture)
    document = words.readback_document(found)
    write(place, "tested", what=what, day=day, good=not ranges and plays is not False, note=note, document=document)
    put_lines(words.readback_lines(found))


def checked(place: str | None, what: str, *, answers: Mapping[str, bool], day: date, note: str) -> None:
    """What is beside the disc, and what that does to its price."""
    if not answers:
        raise BadTerms("Nothing says what was looked at.", remedy="Say such as --case or --no-manual.")
    write(place, "checked", what=what, day=day, document=json.dumps(answers), note=note)
    with opened(place) as book:
        put_lines(check_lines(one_item(what, items_of(book.events()))))


def document_of(report: Path, disc: int | None) -> str:
    """The disc's document out of a report."""
    documents = read_discs(report)
    names = list(documents)
    if disc is None and len(names) != 1:
        listed = "; ".join(f"{number}: {name}" for number, name in enumerate(names, start=1))
        raise BadTerms(
            "It must be plain which disc is meant.", file=str(report), remedy=f"Its discs: {listed or 'none'}."
        )
    if (disc or 1) > len(names):
        raise BadTerms(
            f"The report holds no disc {disc}.", file=str(report), remedy=f"Its discs are 1 to {len(names)}."
        )
    return documents[names[(disc or 1) - 1]]


def returned(
    place: str | None,
    what: str,
    *,
    refund: Any,
    fees: Any,
    same: bool | None,
    photos: Sequence[Path],
    day: date,
    note: str,
) -> None:
    """A return. What a person says goes before what photos tell; the answer of either is kept."""
    document, lines = "", list[str]()
    if photos:
        from discscan.cli.returns import GOOD, compare

        with opened(place) as book:
            item = one_item(what, items_of(book.events()), sold=True)
        told = compare(item, photos, kept=photos_of(book_place(place)))
        document, lines = told.model_dump_json(), list(same_lines(told))
        same = GOOD[told.answer] if same is None else same
    write(place, "returned", what=what, day=day, amount=refund, fees=fees, good=same, note=note, document=document)
    put_lines(lines)


def undo(place: str | None, *, number: int | None) -> None:
    with opened(place) as book:
        (event,) = book.add(lambda known: [undo_of(known, day=date.today(), number=number)[0]])
        (undone,) = (one for one in book.events() if one.key == event.undoes)
        put(f"{words.taken_back(undone)}\n")


def show(place: str | None, what: str | None) -> None:
    with opened(place) as book:
        items = items_of(book.events())
        if what is None:
            put_lines(columns(words.ITEMS_HEAD, words.item_rows(items)) or [words.EMPTY])
            return
        found = named_items(what, items)
        matching = [] if found else matching_items(what, items)
        if not found and not matching:
            raise NoSuchItem(f"Nothing is called {what!r} or mentions it.", remedy="Look at `discscan ledger show`.")
        put_lines(columns(words.ITEMS_HEAD, words.item_rows(matching)))
        for item in found:
            put_lines([f"{item.number}: {item.title}"], columns(words.EVENTS_HEAD, words.event_rows(item)))


def correct(place: str | None, number: int, changes: Mapping[str, Any]) -> None:
    with opened(place) as book:
        book.add(lambda known: [correction_of(known, number=number, **changes)])
        (item,) = (item for item in items_of(book.events()) if any(event.number == number for event in item.events))
        (event,) = (event for event in item.events if event.number == number)
        put(f"{words.corrected(event, item)}\n")


def enter(place: str | None, table: Path, *, dates: Any) -> int:
    """Many events at once; the exit status."""
    passed_over, faults = 0, list[Fault]()

    def make(known: Sequence[Event]) -> list[Event]:
        nonlocal passed_over, faults
        fresh, passed_over, faults = read_entries(table, known=known, today=date.today(), day_order=dates)
        return fresh

    with opened(place) as book:
        count = len(book.add(make))
    put(f"{words.taken_in(count, passed_over)}\n")
    return tell_faults(table, faults)


def listing(place: str | None, what: str, *, out: Path | None, pictures: Path | None) -> None:
    with opened(place) as book:
        item = one_item(what, items_of(book.events()))
    text = words_for_sale(item)
    if pictures is not None:
        from discscan.cli.pictures import draw_kept

        draw_kept(item, photos=photos_of(book_place(place)), folder=pictures)
    if out is None:
        put(text)
    else:
        put_file(out, text)
        say(f"Listing: {out.resolve()}")


def summary(place: str | None, *, today: date) -> None:
    with opened(place) as book:
        found = summarise(items_of(book.events()), today=today)
        rows = words.group_rows(found.by_source, verdicts=False) + words.group_rows(found.by_verdict, verdicts=True)
        put_lines(words.summary_lines(found), columns(words.GROUPS_HEAD, rows))


def export(place: str | None, *, as_json: bool) -> None:
    with opened(place) as book:
        put((to_json if as_json else to_csv)(book.events()), encoding="utf-8")


def take_in(place: str | None, file: Path) -> None:
    passed_over = 0

    def make(known: Sequence[Event]) -> list[Event]:
        nonlocal passed_over
        fresh, passed_over = from_table(file, known=known)
        return fresh

    with opened(place) as book:
        count = len(book.add(make))
        put(f"{words.taken_in(count, passed_over)}\n")


def backup(place: str | None, file: Path) -> None:
    with opened(place) as book:
        book.back_up(file)
        count = copy_photos(photos_of(book.place), photos_of(file))
        say(f"Backup: {file.resolve()}{f', and {photos_of(file).resolve()}' if count else ''}")


@contextmanager
def opened(place: str | None) -> Iterator[Book]:
    book = Book(book_place(place))
    try:
        yield book
    finally:
        book.close()
