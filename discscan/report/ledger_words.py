"""Every sentence about what the ledger holds."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from decimal import Decimal

from discscan.events import Event, Group, Item, Kind, Readback, Summary
from discscan.report.money_words import counted, money
from discscan.report.words import VERDICT

KIND: Mapping[Kind, str] = {
    "found": "found", "bought": "bought", "scanned": "scanned", "checked": "looked over",
    "polished": "polished", "tested": "tested", "listed": "listed", "sold": "sold", "returned": "sent back",
    "discarded": "thrown away", "undo": "taken back", "correction": "corrected",
}  # fmt: skip
ITEMS_HEAD = ("No.", "Item", "State", "Since", "Put in", "Brought in")
EVENTS_HEAD = ("Event", "Day", "What", "Amount", "Fees", "Outcome", "Where from", "Note")
GROUPS_HEAD = ("", "Ended", "Gain", "Back per 1")
LANE_SEEN, LANE_UNREAD = "Damage seen", "Not read"
_PLACES = 5
EMPTY = "The ledger is empty. Begin with: discscan ledger bought TITLE --cost AMOUNT."


def written(event: Event, item: Item) -> str:
    amount = "" if event.amount is None else f", {money(event.amount)}"
    return f"Item {item.number}, {item.title}: {KIND[event.kind]}{amount} on {event.day.isoformat()}."


def corrected(event: Event, item: Item) -> str:
    return f"Corrected. {written(event, item)}"


def photo_not_kept(file: str) -> str:
    return (
        f"The photo was not kept: {file} is not there any more, or was changed. "
        "`discscan ledger scanned ... --photo PHOTO` tells where it is."
    )


def no_photo(scan: Event) -> str:
    return f"No photo is kept of the scan of {scan.day.isoformat()}, so it has no picture."


def seen_otherwise(scan: Event) -> str:
    return (
        f"Since the scan of {scan.day.isoformat()} the program has changed, and sees the photo a little otherwise: "
        "scan it anew and keep that report, so that words and picture agree."
    )


def ring_label(radius_mm: int) -> str:
    return f"{radius_mm} mm"


def readback_lines(found: Readback) -> Iterator[str]:
    """Where the unreadable sectors lie, and how well that agrees with the damage seen."""
    if not found.count:
        return
    places = [_radius(*radii) for radii in found.radii_mm[:_PLACES]]
    more = len(found.radii_mm) - len(places)
    yield (
        f"{counted(found.count, 'unreadable sector')} at {', '.join(places)} from the centre"
        f"{f', and in {more} more places' if more else ''}."
    )
    if found.seen is not None and found.by_chance is not None:
        yield (
            f"{found.seen} of them lie at a distance at which damage was seen, "
            f"{100 * found.seen / found.count:.0f} %; by chance it would be {100 * found.by_chance:.0f} %."
        )


def readback_document(found: Readback) -> str:
    """The same as JSON, to be kept."""
    return json.dumps(asdict(found))


def taken_back(event: Event) -> str:
    return f"Taken back: {event.title}, {KIND[event.kind]} on {event.day.isoformat()}."


def taken_in(count: int, known: int) -> str:
    return f"{counted(count, 'event')} taken in{f'; {known} passed over, being there already' if known else ''}."


def item_rows(items: Sequence[Item]) -> list[tuple[str, ...]]:
    """Under `ITEMS_HEAD`."""
    return [
        (
            str(item.number),
            item.title,
            KIND[item.state],
            item.events[-1].day.isoformat(),
            money(item.total("bought", "polished")),
            money(item.total("sold") - item.total("returned")) if item.last("sold") else "",
        )
        for item in items
    ]


def event_rows(item: Item) -> list[tuple[str, ...]]:
    """Under `EVENTS_HEAD`."""
    return [
        (
            str(event.number),
            event.day.isoformat(),
            KIND[event.kind],
            "" if event.amount is None else money(event.amount),
            "" if event.fees is None else money(event.fees),
            _outcome(event),
            event.source,
            event.note,
        )
        for event in item.events
    ]


def summary_lines(summary: Summary) -> Iterator[str]:
    if summary.first_day is None:
        yield EMPTY
        return
    result = f"Gain {money(summary.gain)}" if summary.gain >= 0 else f"Loss {money(-summary.gain)}"
    back = "" if summary.return_per_unit is None else f", {summary.return_per_unit:.2f} back for each unit put in"
    since = summary.first_day.isoformat()
    yield f"{result} with {counted(summary.ended, 'item')} sold or thrown away since {since}{back}."
    if summary.days_to_sell is not None:
        a_day = "" if summary.gain_per_day is None else f"; gain {money(summary.gain_per_day)} a day and item"
        yield f"From buying to selling: {summary.days_to_sell} days in the middle{a_day}."
    yield f"In stock: {counted(summary.stock, 'item')} for {money(summary.stock_cost)}."
    if summary.turns is not None and summary.gmroi is not None:
        yield (
            f"Over these {summary.days} days, stock of {money(summary.average_stock)} on average was turned "
            f"{summary.turns:.1f} times and gained {summary.gmroi:.1f} times its cost."
        )
    if summary.returned:
        yield f"Sent back by buyers: {summary.returned}."
    if summary.passed_up:
        yield f"Found and not bought: {summary.passed_up}."


def group_rows(groups: Sequence[Group], *, verdicts: bool) -> list[tuple[str, ...]]:
    """Under `GROUPS_HEAD`."""
    return [
        (_sort(group.sort, verdicts), str(group.ended), money(group.gain), _ratio(group.return_per_unit))
        for group in groups
    ]


def _radius(inner_mm: float, outer_mm: float) -> str:
    first, last = f"{inner_mm:.1f}", f"{outer_mm:.1f}"
    return f"{first} mm" if first == last else f"{first} to {last} mm"


def _outcome(event: Event) -> str:
    if event.good is None:
        return "cannot tell" if event.kind == "returned" and event.document else ""
    if event.kind == "tested":
        return "plays" if event.good else "does not play"
    if event.kind == "returned":
        return "the same disc" if event.good else "another disc"
    return "helped" if event.good else "did not help"


def _sort(sort: str, verdict: bool) -> str:
    if verdict:
        return f"Verdict: {VERDICT[sort].lower() if sort in VERDICT else 'not scanned'}"
    return f"From: {sort or 'not told'}"


def _ratio(ratio: Decimal | None) -> str:
    return "" if ratio is None else f"{ratio:.2f}"
