"""Many events at once, from a table as people keep it: bad rows are told by their line, and the rest is kept."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from typing import get_args

from discscan.barcodes import parse_barcode
from discscan.dates import DayOrder, day_of, usual_order
from discscan.deals import Fault
from discscan.errors import NoSuchItem, OutOfOrder
from discscan.events import Event, Kind
from discscan.ledger.items import NEEDS_AMOUNT, TAKES, items_of, next_event
from discscan.money import parse_money
from discscan.rows import BadRow, Line, read_rows

ENTRY_COLUMNS = ("item", "event", "date", "amount", "fees", "outcome", "source", "note", "barcode")
KINDS: Mapping[str, Kind] = {
    kind: kind for kind in get_args(Kind) if kind not in ("scanned", "checked", "undo", "correction")
}
"""What a table can tell: a scan and what is beside a disc have more to them than a row."""

OUTCOMES: Mapping[str, bool | None] = {
    "": None, **dict.fromkeys(("yes", "y", "plays", "helped"), True), **dict.fromkeys(("no", "n", "fails"), False),
}  # fmt: skip


def read_entries(
    path: Path, *, known: Sequence[Event], today: date, day_order: DayOrder | None = None
) -> tuple[list[Event], int, list[Fault]]:
    """The events of a table with the columns `ENTRY_COLUMNS` (item, event and date must be there), in its order.

    The same row makes the same event, so that a table whose bad rows were mended can be entered again.

    Returns:
        the events that the book does not hold yet, how many of the others it holds, and the rows left out.
    Raises:
        UnreadableTable: the file cannot be read, or lacks a column.
    """
    rows, faults = read_rows(path, columns=ENTRY_COLUMNS, needed=("item", "event", "date"))
    order = day_order or usual_order(row["date"] for row in rows)
    book, fresh, passed_over = list(known), [], 0
    have = {event.key for event in known}
    seen: Counter[str] = Counter()
    for row in rows:
        try:
            kind, details = _told(row)
            day = day_of(row["date"], order=order, today=today)
            mark = _mark(row, kind, day)
            seen[mark] += 1
            key = sha256(f"{mark} {seen[mark]}".encode()).hexdigest()[:32]
            if key in have:
                passed_over += 1
                continue
            event = next_event(kind, what=row["item"], day=day, items=items_of(book), **details)
        except BadRow as bad:
            faults.append(Fault(row.number, bad.what, bad.text))
        except (NoSuchItem, OutOfOrder) as error:
            faults.append(Fault(row.number, "refused", f"{error.what} {error.remedy}"))
        else:
            begins = event.item == event.key
            fresh.append(replace(event, key=key, item=key if begins else event.item))
            book.append(fresh[-1])
    return fresh, passed_over, sorted(faults, key=lambda fault: fault.line)


def _told(row: Line) -> tuple[Kind, dict[str, object]]:
    if not row["item"]:
        raise BadRow("no-item")
    if not row["event"]:
        raise BadRow("no-event")
    kind = KINDS.get(row["event"].casefold())
    if kind is None:
        raise BadRow("bad-event", row["event"])
    details: dict[str, object] = {
        "amount": _money(row["amount"]), "fees": _money(row["fees"]), "good": _outcome(row["outcome"]),
        "source": row["source"], "barcode": _barcode(row["barcode"]),
    }  # fmt: skip
    for name, value in details.items():
        if value not in (None, "") and kind not in TAKES[name]:
            raise BadRow("not-taken", "outcome" if name == "good" else name)
    if kind in NEEDS_AMOUNT and details["amount"] is None:
        raise BadRow("no-price")
    if kind == "tested" and details["good"] is None:
        raise BadRow("bad-outcome", row["outcome"])
    return kind, {**details, "note": row["note"]}


def _money(text: str) -> Decimal | None:
    try:
        return parse_money(text) if text else None
    except ValueError:
        raise BadRow("bad-price", text) from None


def _outcome(text: str) -> bool | None:
    try:
        return OUTCOMES[text.casefold()]
    except KeyError:
        raise BadRow("bad-outcome", text) from None


def _barcode(text: str) -> str:
    try:
        return parse_barcode(text) if text else ""
    except ValueError as error:
        raise BadRow("bad-barcode", str(error)) from None


def _mark(row: Line, kind: Kind, day: date) -> str:
    """What makes two rows the same: all that they tell, however it is spaced."""
    told = [" ".join(row[column].split()) for column in ENTRY_COLUMNS if column not in ("event", "date")]
    return "\n".join([kind, day.isoformat(), *told])
