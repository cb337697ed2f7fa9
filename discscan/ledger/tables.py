"""The tables of a book, the steps that lead to them, and how a row becomes an event."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import BigInteger, Column, Connection, Date, Integer, MetaData, Row, String, Table, Text

from discscan.events import Event
from discscan.money import CENT


def _first_columns() -> list[Column[Any]]:
    return [
        Column("number", Integer, primary_key=True, autoincrement=True),
        Column("key", String, nullable=False, unique=True),
        Column("item", String, nullable=False, index=True),
        Column("kind", String, nullable=False),
        Column("day", Date, nullable=False),
        Column("title", Text, nullable=False),
        Column("amount_cents", BigInteger),
        Column("fees_cents", BigInteger),
        Column("good", Integer),
        Column("source", Text, nullable=False),
        Column("note", Text, nullable=False),
        Column("undoes", String, nullable=False),
        Column("document", Text, nullable=False),
    ]


_now = MetaData()
steps = Table("steps", _now, Column("name", String, primary_key=True), Column("at", String, nullable=False))
events = Table("events", _now, *_first_columns(), Column("barcode", String, nullable=False))

ONLY_GROWS = {
    "sqlite": [
        f"CREATE TRIGGER events_only_grow_{change.lower()} BEFORE {change} ON events "
        "BEGIN SELECT RAISE(ABORT, 'a ledger only grows'); END"
        for change in ("UPDATE", "DELETE")
    ],
    "postgresql": [
        "CREATE FUNCTION events_only_grow() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'a ledger only grows'; END $$",
        "CREATE TRIGGER events_only_grow BEFORE UPDATE OR DELETE OR TRUNCATE ON events "
        "FOR EACH STATEMENT EXECUTE FUNCTION events_only_grow()",
    ],
}


def _first_tables(connection: Connection) -> None:
    first = MetaData()
    Table("steps", first, Column("name", String, primary_key=True), Column("at", String, nullable=False))
    Table("events", first, *_first_columns(), sqlite_autoincrement=True)
    first.create_all(connection)
    for statement in ONLY_GROWS[connection.dialect.name]:
        connection.exec_driver_sql(statement)
    connection.exec_driver_sql("CREATE UNIQUE INDEX undone_once ON events (undoes) WHERE undoes <> ''")


def _barcodes_and_corrections(connection: Connection) -> None:
    """An event names the case's barcode; it is undone once, but corrected as often as need be."""
    connection.exec_driver_sql("ALTER TABLE events ADD COLUMN barcode VARCHAR NOT NULL DEFAULT ''")
    connection.exec_driver_sql("DROP INDEX undone_once")
    connection.exec_driver_sql("CREATE UNIQUE INDEX undone_once ON events (undoes) WHERE kind = 'undo'")


STEPS: Mapping[str, Callable[[Connection], None]] = {
    "2026-11-25 first tables": _first_tables,
    "2026-11-26 barcodes and corrections": _barcodes_and_corrections,
}
"""What brings a book of any earlier version up to this one, in order. A step is never changed, only added."""


def row_of(one: Event) -> dict[str, Any]:
    """All but the number, which the book gives."""
    return {
        "key": one.key,
        "item": one.item,
        "kind": one.kind,
        "day": one.day,
        "title": one.title,
        "amount_cents": _cents(one.amount),
        "fees_cents": _cents(one.fees),
        "good": None if one.good is None else int(one.good),
        "source": one.source,
        "note": one.note,
        "undoes": one.undoes,
        "document": one.document,
        "barcode": one.barcode,
    }


def event_of(row: Row[Any]) -> Event:
    day: date = row.day
    return Event(
        number=row.number, key=row.key, item=row.item, kind=row.kind, day=day, title=row.title,
        amount=_amount(row.amount_cents), fees=_amount(row.fees_cents), source=row.source, note=row.note,
        good=None if row.good is None else bool(row.good), undoes=row.undoes, document=row.document,
        barcode=row.barcode,
    )  # fmt: skip


def _cents(amount: Decimal | None) -> int | None:
    return None if amount is None else int(amount / CENT)


def _amount(count: int | None) -> Decimal | None:
    return None if count is None else count * CENT
