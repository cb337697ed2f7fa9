"""From the events of a book to its items, and which event may come next."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from uuid import uuid4

from discscan.errors import BadTerms, NoSuchItem, OutOfOrder
from discscan.events import Event, Item, Kind

STARTS: tuple[Kind, ...] = ("found", "bought")
"""What an item may begin with."""

TAKES: Mapping[str, tuple[Kind, ...]] = {
    "amount": ("found", "bought", "polished", "listed", "sold", "returned"),
    "fees": ("sold", "returned"),
    "good": ("polished", "tested", "returned"),
    "source": ("found", "bought"),
    "barcode": ("found", "bought"),
}
"""Of which kinds of event a detail may be told; a note, a day and a title of all."""

NEEDS_AMOUNT: tuple[Kind, ...] = ("bought", "polished", "listed", "sold")


def items_of(events: Sequence[Event]) -> list[Item]:
    """The items with the events that stand, as corrected; one whose first event was undone is gone.

    They are numbered in the order in which they began, with those that are gone, so that a number stays its item's.
    """
    begun = [event.key for event in events if event.key == event.item]
    numbers = {key: number for number, key in enumerate(begun, start=1)}
    standing = _standing(events)
    corrections = {event.undoes: event for event in standing if event.kind == "correction"}  # the last one counts
    items: dict[str, list[Event]] = {}
    for event in standing:
        if event.kind != "correction":
            items.setdefault(event.item, []).append(_corrected(event, corrections.get(event.key)))
    return [Item(numbers[key], tuple(those)) for key, those in items.items() if those[0].key == key]


def _standing(events: Sequence[Event]) -> list[Event]:
    undone = {event.undoes for event in events if event.kind == "undo"}
    return [event for event in events if event.kind != "undo" and event.key not in undone]


def _corrected(event: Event, correction: Event | None) -> Event:
    if correction is None:
        return event
    return replace(correction, key=event.key, number=event.number, kind=event.kind, undoes="")


def next_event(kind: Kind, *, what: str, day: date, items: Sequence[Item], **details: object) -> Event:
    """An event of an item, named by number, title or barcode; `found` and `bought` begin a new one under a title not
    yet open.

    Raises:
        NoSuchItem: none is so called, or several are.
        OutOfOrder: the item has come to its end, or was bought before; or is to come back without having been sold.
    """
    item = _called(what, items, sold=kind == "returned")
    key = uuid4().hex
    begins = item is None or (item.ended and not what.isdecimal())
    if kind in STARTS and begins:
        title = " ".join(what.split())
        if title and not title.isdecimal():
            return replace(Event(key=key, item=key, kind=kind, day=day, title=title), **details)  # type: ignore[arg-type]
    if item is None:
        raise NoSuchItem(
            f"No item is called {what!r}.", remedy="Look at `discscan ledger show`, or begin with `found` or `bought`."
        )
    _refuse_out_of_order(kind, item)
    new = Event(key=key, item=item.events[0].key, kind=kind, day=day, title=item.title)
    return replace(new, **details)  # type: ignore[arg-type]


def _refuse_out_of_order(kind: Kind, item: Item) -> None:
    named = f"Item {item.number}, {item.title},"
    if kind == "returned":
        if item.end is None or item.end.kind != "sold":
            raise OutOfOrder(f"{named} is not sold.", remedy="Only what was sold can come back.")
    elif item.end is not None:
        raise OutOfOrder(
            f"{named} is {item.end.kind} already.",
            remedy="If that is wrong, take it back with `discscan ledger undo`; if it came back, say `returned`.",
        )
    elif kind == "found" or (kind == "bought" and item.last("bought") is not None):
        raise OutOfOrder(
            f"{named} was {kind} already.",
            remedy="Give a second one of the same a title of its own, such as with a number behind it.",
        )


def correction_of(events: Sequence[Event], *, number: int, **changes: object) -> Event:
    """The event that puts itself in the place of another, changed as told; what is corrected stays in the book.

    Args:
        changes: of the fields of `Event`.
    Raises:
        NoSuchItem: there is no such event to correct.
        BadTerms: nothing is changed, or an event of this kind has no such detail.
    """
    one = next((event for item in items_of(events) for event in item.events if event.number == number), None)
    if one is None:
        raise NoSuchItem("There is no such event to correct.", remedy="Look at `discscan ledger show ITEM`.")
    if not changes:
        raise BadTerms("Nothing says what is to be corrected.", remedy="Say such as --amount 4.50.")
    for name in changes:
        if one.kind not in TAKES.get(name, (one.kind,)):
            raise BadTerms(f"That it was {one.kind} has no such detail.", remedy=f"Leave the {name} away.")
    if "title" in changes and one.key != one.item:
        raise BadTerms("A title is corrected where the item begins.", remedy="Name its first event.")
    return replace(one, kind="correction", key=uuid4().hex, undoes=one.key, number=0, **changes)  # type: ignore[arg-type]


def undo_of(events: Sequence[Event], *, day: date, number: int | None) -> tuple[Event, Event]:
    """The event that takes back one (the last that stands, where no number is told), and the one taken back.

    Raises:
        NoSuchItem: there is none to take back.
        OutOfOrder: the item began with it and went on since.
    """
    standing = _standing(events)
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
    """Those with this number, barcode or title; case and spaces do not count."""
    if what.isdecimal():
        return [item for item in items if item.number == int(what) or item.barcode in (what, what.rjust(13, "0"))]
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


def one_item(what: str, items: Sequence[Item], *, sold: bool = False) -> Item:
    """The item of this number, barcode or title; of several, the one that has not ended.

    Args:
        sold: it must be one that is sold.
    Raises:
        NoSuchItem: none is so called, or several are.
        OutOfOrder: it is to be sold, and is not.
    """
    item = _called(what, items, sold=sold)
    if item is None:
        raise NoSuchItem(f"No item is called {what!r}.", remedy="Look at `discscan ledger show`.")
    if sold:
        _refuse_out_of_order("returned", item)
    return item


def _called(what: str, items: Sequence[Item], *, sold: bool = False) -> Item | None:
    """The one meant: of several that are so called, the one that is here, or was sold, as is asked for."""
    named = named_items(what, items)
    fitting = [item for item in named if (item.end is not None and item.end.kind == "sold" if sold else not item.ended)]
    if len(fitting) > 1:
        numbers = ", ".join(str(item.number) for item in fitting)
        raise NoSuchItem(f"Several items are called {what!r}.", remedy=f"Say which by its number: {numbers}.")
    return fitting[0] if fitting else named[-1] if named else None
