"""From the events of a book to its items, and which event may come next."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from uuid import uuid4

from discscan.errors import NoSuchItem, OutOfOrder
from discscan.events import Event, Item, Kind

STARTS: tuple[Kind, ...] = ("found", "bought")
"""What an item may begin with."""


def items_of(events: Sequence[Event]) -> list[Item]:
    """The items with the events that stand; one whose first event was undone is gone."""
    undone = {event.undoes for event in events if event.kind == "undo"}
    standing: dict[str, list[Event]] = {}
    for event in events:
        if event.kind != "undo" and event.key not in undone:
            standing.setdefault(event.item, []).append(event)
    return [Item(those[0].number, tuple(those)) for key, those in standing.items() if those[0].key == key]


def next_event(kind: Kind, *, what: str, day: date, items: Sequence[Item], **details: object) -> Event:
    """An event of an item, named by number or title; `found` and `bought` begin a new one under a title not yet open.

    Raises:
        NoSuchItem: none is so called, or several are.
        OutOfOrder: the item has come to its end, or was bought before.
    """
    item = _called(what, items)
    key = uuid4().hex
    if item is None:
        title = " ".join(what.split())
        if kind not in STARTS or not title or title.isdecimal():
            raise NoSuchItem(
                f"No item is called {what!r}.",
                remedy="Look at `discscan ledger show`, or begin with `found` or `bought`.",
            )
        return replace(Event(key=key, item=key, kind=kind, day=day, title=title), **details)  # type: ignore[arg-type]
    if item.ended:
        raise OutOfOrder(
            f"Item {item.number}, {item.title}, is {item.state} already.",
            remedy="If that is wrong, take it back with `discscan ledger undo`.",
        )
    if kind == "found" or (kind == "bought" and item.last("bought") is not None):
        raise OutOfOrder(
            f"Item {item.number}, {item.title}, was {kind} already.",
            remedy="Give a second one of the same a title of its own, such as with a number behind it.",
        )
    new = Event(key=key, item=item.events[0].key, kind=kind, day=day, title=item.title)
    return replace(new, **details)  # type: ignore[arg-type]


def undo_of(events: Sequence[Event], *, day: date, number: int | None) -> tuple[Event, Event]:
    """The event that takes back one (the last that stands, where no number is told), and the one taken back.

    Raises:
        NoSuchItem: there is none to take back.
        OutOfOrder: the item began with it and went on since.
    """
    undone = {event.undoes for event in events if event.kind == "undo"}
    standing = [event for event in events if event.kind != "undo" and event.key not in undone]
    wanted = standing[-1:] if number is None else [event for event in standing if event.number == number]
    if not wanted:
        raise NoSuchItem("There is no such event to take back.", remedy="Look at `discscan ledger show ITEM`.")
    one = wanted[0]
    if one.key == one.item and any(event.item == one.item and event.key != one.key for event in standing):
        raise OutOfOrder("The item began with this, and went on since.", remedy="Take back its later events first.")
    return Event(key=uuid4().hex, item=one.item, kind="undo", day=day, title=one.title, undoes=one.key), one


def verdict_in(document: str) -> str:
    """The action of the disc in the document of a `scanned` event.

    Raises:
        ValueError: it holds none.
    """
    told = json.loads(document)
    try:
        return str(told["photo"]["discs"][0]["verdict"]["action"])
    except (KeyError, IndexError, TypeError):
        raise ValueError("a scan without a disc") from None


def named_items(what: str, items: Sequence[Item]) -> list[Item]:
    """Those with this number or title; case and spaces do not count."""
    if what.isdecimal():
        return [item for item in items if item.number == int(what)]
    plain = " ".join(what.split()).casefold()
    return [item for item in items if " ".join(item.title.split()).casefold() == plain]


def matching_items(text: str, items: Sequence[Item]) -> list[Item]:
    """Those with this text in their title, where they are from or a note; case does not count."""
    plain = text.casefold()
    return [
        item
        for item in items
        if any(plain in told.casefold() for event in item.events for told in (event.title, event.source, event.note))
    ]


def one_item(what: str, items: Sequence[Item]) -> Item:
    """The item of this number or title. Raises NoSuchItem when none or several are open under it."""
    item = _called(what, items)
    if item is None:
        raise NoSuchItem(f"No item is called {what!r}.", remedy="Look at `discscan ledger show`.")
    return item


def _called(what: str, items: Sequence[Item]) -> Item | None:
    """The one meant: of several with this title, the one that has not ended."""
    named = named_items(what, items)
    still_open = [item for item in named if not item.ended]
    if len(still_open) > 1:
        numbers = ", ".join(str(item.number) for item in still_open)
        raise NoSuchItem(f"Several items are called {what!r}.", remedy=f"Say which by its number: {numbers}.")
    if what.isdecimal():
        return named[0] if named else None
    return still_open[0] if still_open else None
