"""The events of a book as CSV or JSON, and back: nothing is lost on the way, and nothing is taken in twice."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import get_args

from discscan.barcodes import parse_barcode
from discscan.errors import UnreadableTable
from discscan.events import Event, Kind, checks_in
from discscan.ledger.items import verdict_in
from discscan.money import parse_money

COLUMNS = (
    "key", "item", "kind", "day", "title", "amount", "fees", "good", "source", "note", "undoes", "document",
    "barcode",
)  # fmt: skip
GOOD = {None: "", True: "yes", False: "no"}


def to_csv(events: Iterable[Event]) -> str:
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, COLUMNS)  # lines end as RFC 4180 has it, so that any line end in a field is quoted
    writer.writeheader()
    writer.writerows(_told(one) for one in events)
    return text.getvalue()


def to_json(events: Iterable[Event]) -> str:
    return json.dumps({"events": [_told(one) for one in events]}, indent=1, ensure_ascii=False) + "\n"


def from_table(path: Path, *, known: Sequence[Event]) -> tuple[list[Event], int]:
    """The events of an exported file that the book does not hold yet, in their order, and how many it holds.

    Raises:
        UnreadableTable: the file cannot be read, or one of its events makes no sense; then none is taken.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
        rows = json.loads(text)["events"] if text.lstrip().startswith("{") else _csv_rows(text)
        found = [_event(row) for row in rows]
        kinds = {one.key: one.kind for one in (*known, *found)}
        for one in found:
            _refuse_nonsense(kinds.get(one.undoes, one.kind) if one.kind == "correction" else one.kind, one.document)
    except OSError as error:
        raise UnreadableTable(
            f"It cannot be read: {error.strerror}.", file=str(path), remedy="Check how its name is written."
        ) from error
    except (ValueError, KeyError, TypeError, AttributeError, csv.Error) as error:
        raise UnreadableTable(
            f"This is no export of a ledger: {error}.", file=str(path), remedy="Nothing was taken in."
        ) from error
    have = {one.key for one in known}
    fresh = [one for one in found if one.key not in have]
    keys = have | {one.key for one in fresh}
    if len({one.key for one in fresh}) < len(fresh) or any({one.item, one.undoes or one.item} - keys for one in fresh):
        raise UnreadableTable(
            "Some of its events are there twice, or their item is missing.", file=str(path), remedy="Export it anew."
        )
    return fresh, len(found) - len(fresh)


def _csv_rows(text: str) -> list[dict[str, str]]:
    before = csv.field_size_limit(len(text))  # a report whole is larger than what csv takes for a field by itself
    try:
        rows = csv.DictReader(io.StringIO(text, newline=""), strict=True)
        if tuple(rows.fieldnames or ()) not in (COLUMNS, COLUMNS[:-1]):  # books knew no barcodes at first
            raise ValueError("its first row names other columns")
        return list(rows)
    finally:
        csv.field_size_limit(before)


def _told(one: Event) -> dict[str, str]:
    return {
        "key": one.key, "item": one.item, "kind": one.kind, "day": one.day.isoformat(), "title": one.title,
        "amount": "" if one.amount is None else f"{one.amount:.2f}",
        "fees": "" if one.fees is None else f"{one.fees:.2f}",
        "good": GOOD[one.good], "source": one.source, "note": one.note, "undoes": one.undoes, "document": one.document,
        "barcode": one.barcode,
    }  # fmt: skip


def _refuse_nonsense(kind: Kind, document: str) -> None:
    """Raises ValueError where an event of this kind needs another document."""
    if kind == "scanned":
        verdict_in(document)
    if kind == "checked":
        checks_in(document)


def _event(row: Mapping[str, str]) -> Event:
    if row["kind"] not in get_args(Kind) or not row["key"] or not row["item"]:
        raise ValueError(f"an event of the kind {row['kind']!r}")
    return Event(
        key=row["key"],
        item=row["item"],
        kind=row["kind"],  # type: ignore[arg-type]
        day=date.fromisoformat(row["day"]),
        title=row["title"],
        amount=parse_money(row["amount"]) if row["amount"] else None,
        fees=parse_money(row["fees"]) if row["fees"] else None,
        good={word: good for good, word in GOOD.items()}[row["good"]],
        source=row["source"],
        note=row["note"],
        undoes=row["undoes"],
        document=row["document"],
        barcode=parse_barcode(row["barcode"]) if row.get("barcode") else "",
    )
