"""The user's ledger and what was learned from it, as the pages need them; each request opens the book anew."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from discscan.errors import NoSuchItem, OutOfOrder
from discscan.events import Event, Item, Kind, Summary
from discscan.learn import forget_lesson, learn, lesson_in_use, place_of, read_lesson, write_lesson
from discscan.ledger import (
    Book,
    correction_of,
    items_of,
    keep_photo,
    matching_items,
    named_items,
    next_event,
    photos_of,
    summarise,
    to_csv,
    to_json,
    undo_of,
)
from discscan.lessons import Learned, Lesson
from discscan.places import Place, home_of


class Shelf:
    """
    Args:
        place: of the book.
    """

    def __init__(self, place: Place) -> None:
        self._place = place
        self._learned = place_of(home_of(place))

    @contextmanager
    def book(self) -> Iterator[Book]:
        opened = Book(self._place)
        try:
            yield opened
        finally:
            opened.close()

    def items(self, text: str = "") -> list[Item]:
        """All items, or those of this number or title, or that mention the text."""
        with self.book() as book:
            items = items_of(book.events())
        return (named_items(text, items) or matching_items(text, items)) if text else items

    def item(self, number: int) -> Item:
        """Raises NoSuchItem."""
        for item in self.items():
            if item.number == number:
                return item
        raise NoSuchItem("The ledger has no such item.", remedy="It may have been taken back.")

    def event(self, number: int) -> tuple[Item, Event]:
        """An event that stands, with its item. Raises NoSuchItem."""
        for item in self.items():
            for event in item.events:
                if event.number == number:
                    return item, event
        raise NoSuchItem("The ledger has no such event.", remedy="It may have been taken back.")

    def write(self, kind: Kind, *, what: str, day: date, **details: Any) -> Item:
        """Write an event, and give its item as it stands then."""
        with self.book() as book:
            (event,) = book.add(lambda known: [next_event(kind, what=what, day=day, items=items_of(known), **details)])
            return self._of(book, event)

    def keep_scan(self, what: str, document: str, photos: Iterable[bytes], *, paid: Decimal | None, day: date) -> Item:
        """A scan of an item, which begins with it unless it is there: bought, or found where nothing was paid.

        The photos are kept first, so that what is acknowledged is there.
        """
        self.keep_photos(photos)

        def make(known: list[Event]) -> list[Event]:
            items = items_of(known)
            new = []
            if not any(not item.ended for item in named_items(what, items)) or paid is not None:
                kind: Kind = "found" if paid is None else "bought"
                new.append(next_event(kind, what=what, day=day, items=items, amount=paid))
            title = new[0].title if new else what
            return [*new, next_event("scanned", what=title, day=day, items=items_of([*known, *new]), document=document)]

        with self.book() as book:
            return self._of(book, book.add(make)[-1])

    def may_follow(self, item: Item, kinds: Iterable[Kind]) -> list[Kind]:
        """Which of these may happen to an item next, as the ledger has it."""
        return [kind for kind in kinds if _is_in_order(kind, item)]

    def undo(self, number: int) -> Event:
        """Take an event back with its corrections, and say which it was."""
        today = date.today()

        def make(known: list[Event]) -> list[Event]:
            gone = {event.undoes for event in known if event.kind == "undo"}
            keys = {event.key for event in known if event.number == number}
            mended = [one for one in known if one.kind == "correction" and one.undoes in keys and one.key not in gone]
            new = [undo_of(known, day=today, number=one.number)[0] for one in mended]
            return [*new, undo_of([*known, *new], day=today, number=number)[0]]

        with self.book() as book:
            undo = book.add(make)[-1]
            return next(event for event in book.events() if event.key == undo.undoes)

    def correct(self, number: int, **changes: Any) -> Item:
        """Put another event in the place of one; what is corrected stays in the book."""
        with self.book() as book:
            (written,) = book.add(lambda known: [correction_of(known, number=number, **changes)])
            return self._of(book, written)

    def keep_photos(self, photos: Iterable[bytes]) -> None:
        for photo in photos:
            keep_photo(photos_of(self._place), photo)

    def summary(self) -> Summary:
        return summarise(self.items(), today=date.today())

    def export(self, *, as_json: bool) -> str:
        with self.book() as book:
            return (to_json if as_json else to_csv)(book.events())

    def lesson(self) -> Lesson | None:
        """What was learned last."""
        return read_lesson(self._learned)

    def learn(self) -> None:
        """Learn from the book anew, and keep it."""
        write_lesson(learn(self.items(), today=date.today()), self._learned)

    def switch(self, *, on: bool) -> None:
        """Use what was learned, or leave it aside."""
        lesson = self.lesson()
        if lesson is not None:
            write_lesson(replace(lesson, in_use=on), self._learned)

    def forget(self) -> None:
        forget_lesson(self._learned)

    def in_use(self) -> Learned | None:
        """What later scans go by."""
        return lesson_in_use(self._learned)

    def _of(self, book: Book, event: Event) -> Item:
        return next(item for item in items_of(book.events()) if item.events[0].key == event.item)


def _is_in_order(kind: Kind, item: Item) -> bool:
    try:
        next_event(kind, what=str(item.number), day=date.today(), items=[item])
    except OutOfOrder:
        return False
    return True
