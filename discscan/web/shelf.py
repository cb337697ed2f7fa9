"""The user's ledger and what was learned from it, as the pages need them; each request opens the book anew."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from discscan.deals import Forecast
from discscan.errors import NoSuchItem
from discscan.events import Event, Item, Kind, Summary
from discscan.learn import as_learned, forget_lesson, learn, place_of, read_lesson, write_lesson
from discscan.ledger import (
    Book,
    default_place,
    items_of,
    matching_items,
    named_items,
    next_event,
    summarise,
    to_csv,
    to_json,
    undo_of,
)
from discscan.lessons import Lesson


class Shelf:
    """
    Args:
        place: of the book; None for the user's own.
    """

    def __init__(self, place: Path | None = None) -> None:
        self._place = place or default_place()

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
            items = items_of(book.events())
            (event,) = book.append([next_event(kind, what=what, day=day, items=items, **details)])
            return self._of(book, event)

    def keep_scan(self, what: str, document: str, *, paid: Decimal | None, day: date) -> Item:
        """A scan of an item, which begins with it unless it is there: bought, or found where nothing was paid."""
        with self.book() as book:
            events = book.events()
            items = items_of(events)
            new = []
            if not any(not item.ended for item in named_items(what, items)) or paid is not None:
                kind: Kind = "found" if paid is None else "bought"
                new.append(next_event(kind, what=what, day=day, items=items, amount=paid))
            title = new[0].title if new else what
            scan = next_event("scanned", what=title, day=day, items=items_of([*events, *new]), document=document)
            *_, written = book.append([*new, scan])
            return self._of(book, written)

    def undo(self, number: int) -> Event:
        """Take an event back, and say which it was."""
        with self.book() as book:
            event, undone = undo_of(book.events(), day=date.today(), number=number)
            book.append([event])
            return undone

    def correct(self, number: int, **changes: Any) -> Item:
        """Take an event back and write it anew with what was changed, in one transaction."""
        with self.book() as book:
            events = book.events()
            undo, wrong = undo_of(events, day=date.today(), number=number)
            items = items_of([*events, undo])
            what = next((str(item.number) for item in items if item.events[0].key == wrong.item), wrong.title)
            kept = {name: getattr(wrong, name) for name in ("amount", "fees", "good", "source", "note", "document")}
            told = {**kept, "day": wrong.day, **changes}
            right = next_event(wrong.kind, what=told.pop("title", what), items=items, **told)
            *_, written = book.append([undo, right])
            return self._of(book, written)

    def summary(self) -> Summary:
        return summarise(self.items(), today=date.today())

    def export(self, *, as_json: bool) -> str:
        with self.book() as book:
            return (to_json if as_json else to_csv)(book.events())

    def lesson(self) -> Lesson | None:
        """What was learned last."""
        return read_lesson(place_of(self._place))

    def learn(self) -> None:
        """Learn from the book anew, and keep it."""
        write_lesson(learn(self.items(), today=date.today()), place_of(self._place))

    def switch(self, *, on: bool) -> None:
        """Use what was learned, or leave it aside."""
        lesson = self.lesson()
        if lesson is not None:
            write_lesson(replace(lesson, in_use=on), place_of(self._place))

    def forget(self) -> None:
        forget_lesson(place_of(self._place))

    def known(self, forecast: Forecast | None) -> Forecast | None:
        """A forecast, recalibrated where something was learned and is in use."""
        lesson = self.used()
        return (
            forecast
            if forecast is None or lesson is None or lesson.curve is None
            else as_learned(forecast, lesson.curve)
        )

    def used(self) -> Lesson | None:
        """The lesson that recalibrates forecasts, if one does."""
        lesson = self.lesson()
        return lesson if lesson is not None and lesson.in_use and lesson.curve is not None else None

    def _of(self, book: Book, event: Event) -> Item:
        return next(item for item in items_of(book.events()) if item.events[0].key == event.item)
