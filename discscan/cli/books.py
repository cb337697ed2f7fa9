"""The ledger's commands at work."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

from discscan.cli.layout import columns, put_lines
from discscan.cli.streams import put, put_file, say
from discscan.errors import BadTerms, NoSuchItem
from discscan.ledger import (
    Book,
    default_place,
    from_table,
    items_of,
    matching_items,
    named_items,
    next_event,
    one_item,
    read_back,
    read_ranges,
    summarise,
    to_csv,
    to_json,
    undo_of,
)
from discscan.report import ledger_words as words
from discscan.report.checks import check_lines
from discscan.report.forecasts import read_discs
from discscan.report.listing import listing as words_for_sale


def write(place: Path | None, kind: Any, *, what: str, day: date, **details: Any) -> None:
    with _open(place) as book:
        items = items_of(book.events())
        (event,) = book.append([next_event(kind, what=what, day=day, items=items, **details)])
        (item,) = (item for item in items_of(book.events()) if item.events[0].key == event.item)
        put(f"{words.written(event, item)}\n")


def tested(
    place: Path | None, what: str, *, plays: bool | None, unreadable: Path | None, format: Any, day: date, note: str
) -> None:
    """A play test, by its outcome or by the sectors that could not be read."""
    if unreadable is None:
        if plays is None:
            raise BadTerms(
                "Nothing says how the test went.", remedy="Say --plays or --fails, or name a list with --unreadable."
            )
        write(place, "tested", what=what, day=day, good=plays, note=note)
        return
    ranges = read_ranges(unreadable)
    if plays and ranges:
        raise BadTerms("It holds unreadable sectors.", file=str(unreadable), remedy="Leave --plays away.")
    with _open(place) as book:
        item = one_item(what, items_of(book.events()))
    found = read_back(ranges, item=item, format=format)
    document = words.readback_document(found)
    write(place, "tested", what=what, day=day, good=not ranges and plays is not False, note=note, document=document)
    put_lines(words.readback_lines(found))


def checked(place: Path | None, what: str, *, answers: Mapping[str, bool], day: date, note: str) -> None:
    """What is beside the disc, and what that does to its price."""
    if not answers:
        raise BadTerms("Nothing says what was looked at.", remedy="Say such as --case or --no-manual.")
    write(place, "checked", what=what, day=day, document=json.dumps(answers), note=note)
    with _open(place) as book:
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


def undo(place: Path | None, *, number: int | None) -> None:
    with _open(place) as book:
        event, undone = undo_of(book.events(), day=date.today(), number=number)
        book.append([event])
        put(f"{words.taken_back(undone)}\n")


def show(place: Path | None, what: str | None) -> None:
    with _open(place) as book:
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


def listing(place: Path | None, what: str, out: Path | None) -> None:
    with _open(place) as book:
        text = words_for_sale(one_item(what, items_of(book.events())))
    if out is None:
        put(text)
    else:
        put_file(out, text)
        say(f"Listing: {out.resolve()}")


def summary(place: Path | None, *, today: date) -> None:
    with _open(place) as book:
        found = summarise(items_of(book.events()), today=today)
        rows = words.group_rows(found.by_source, verdicts=False) + words.group_rows(found.by_verdict, verdicts=True)
        put_lines(words.summary_lines(found), columns(words.GROUPS_HEAD, rows))


def export(place: Path | None, *, as_json: bool) -> None:
    with _open(place) as book:
        put((to_json if as_json else to_csv)(book.events()), encoding="utf-8")


def take_in(place: Path | None, file: Path) -> None:
    with _open(place) as book:
        known = book.events()
        fresh, passed_over = from_table(file, known=known)
        book.append(fresh)
        put(f"{words.taken_in(len(fresh), passed_over)}\n")


def backup(place: Path | None, file: Path) -> None:
    with _open(place) as book:
        book.back_up(file)
        say(f"Backup: {file.resolve()}")


@contextmanager
def _open(place: Path | None) -> Iterator[Book]:
    book = Book(place or default_place())
    try:
        yield book
    finally:
        book.close()
