"""The book on disk: SQLite, append-only. All SQL of the package is in this file."""

from __future__ import annotations

import os
import sqlite3
import sys
from collections.abc import Iterable
from contextlib import closing
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from sqlalchemy import (
    Column,
    Connection,
    Date,
    Integer,
    MetaData,
    Row,
    String,
    Table,
    Text,
    create_engine,
    event,
    insert,
    inspect,
    select,
    text,
)
from sqlalchemy.exc import DatabaseError, IntegrityError

from discscan.errors import UnusableBook
from discscan.events import Event
from discscan.money import CENT

metadata = MetaData()

steps = Table("steps", metadata, Column("name", String, primary_key=True), Column("at", String, nullable=False))

events = Table(
    "events",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("key", String, nullable=False, unique=True),
    Column("item", String, nullable=False, index=True),
    Column("kind", String, nullable=False),
    Column("day", Date, nullable=False),
    Column("title", Text, nullable=False),
    Column("amount_cents", Integer),
    Column("fees_cents", Integer),
    Column("good", Integer),
    Column("source", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("undoes", String, nullable=False),
    Column("document", Text, nullable=False),
    sqlite_autoincrement=True,
)


def _first_tables(connection: Connection) -> None:
    metadata.create_all(connection)
    for change in ("UPDATE", "DELETE"):
        connection.execute(
            text(
                f"CREATE TRIGGER events_only_grow_{change.lower()} BEFORE {change} ON events "
                "BEGIN SELECT RAISE(ABORT, 'a ledger only grows'); END"
            )
        )
    connection.execute(
        text("CREATE UNIQUE INDEX undone_once ON events (undoes) WHERE undoes <> ''"),
    )


STEPS = {"2026-11-25 first tables": _first_tables}
"""What brings a book of any earlier version up to this one, in order. A step is never changed, only added."""


class Book:
    """An open book. One write is one transaction, on disk before `append` returns.

    Raises:
        UnusableBook: the file cannot be opened, is no book, is damaged, or is of a later version.
    """

    def __init__(self, place: Path) -> None:
        self.place = place
        try:
            place.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise UnusableBook(
                f"It cannot be made: {error.strerror}.", file=str(place), remedy="Name another place with --book."
            ) from error
        self._engine = create_engine(f"sqlite:///{place}", connect_args={"timeout": 30})
        event.listen(self._engine, "connect", _settle)
        event.listen(self._engine, "begin", _begin)
        self._writing = self._engine.execution_options(writes=True)
        self._bring_up_to_date()

    def append(self, new: Iterable[Event]) -> list[Event]:
        """Write events, all or none, and return them with their numbers.

        Raises:
            UnusableBook: the disk is full, the book is damaged, or another program has undone the same event.
        """
        rows = [_row(one) for one in new]
        if not rows:
            return []
        try:
            with self._writing.begin() as connection:
                numbers = [connection.execute(insert(events).values(row)).inserted_primary_key for row in rows]
        except IntegrityError as error:
            raise UnusableBook(
                "Such an event is in the book already, or was undone before.",
                file=str(self.place),
                remedy="Look at `discscan ledger show`.",
            ) from error
        except DatabaseError as error:
            raise self._unusable(error) from error
        written = {number[0] for number in numbers if number is not None}
        return [one for one in self.events() if one.number in written]

    def events(self) -> list[Event]:
        """All events in the order in which they were written, undone ones and undoings among them."""
        try:
            with self._engine.connect() as connection:
                return [_event(row) for row in connection.execute(select(events).order_by(events.c.number))]
        except DatabaseError as error:
            raise self._unusable(error) from error

    def back_up(self, place: Path) -> None:
        """Copy the book, also while others write to it.

        Raises:
            UnusableBook: the copy cannot be written, or there is something already.
        """
        if place.exists():
            raise UnusableBook("There is a file already.", file=str(place), remedy="Name a new one.")
        try:
            with closing(sqlite3.connect(self.place)) as source, closing(sqlite3.connect(place)) as copy:
                source.backup(copy)
        except sqlite3.Error as error:
            raise UnusableBook(
                f"The copy cannot be written: {error}.", file=str(place), remedy="Name another place, or make room."
            ) from error

    def close(self) -> None:
        self._engine.dispose()

    def _bring_up_to_date(self) -> None:
        try:
            with self._writing.begin() as connection:
                known = inspect(connection).get_table_names()
                done = set(connection.scalars(select(steps.c.name))) if "steps" in known else set()
                if known and not done:
                    raise self._no_book("This is another program's database.")
                if done - set(STEPS):
                    raise self._no_book("It was written by a later version of discscan.")
                for name, step in STEPS.items():
                    if name not in done:
                        step(connection)
                        at = datetime.now(UTC).isoformat(timespec="seconds")
                        connection.execute(insert(steps).values(name=name, at=at))
        except DatabaseError as error:
            raise self._unusable(error) from error

    def _no_book(self, what: str) -> UnusableBook:
        return UnusableBook(what, file=str(self.place), remedy="Name another book with --book, or update discscan.")

    def _unusable(self, error: DatabaseError) -> UnusableBook:
        return UnusableBook(
            f"The book cannot be used: {error.orig}.",
            file=str(self.place),
            remedy="Check that it is a book of discscan and may be written, or go back to a backup.",
        )


def default_place() -> Path:
    """The book in the user's data folder."""
    if sys.platform == "win32":
        folder = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData/Local")
    elif sys.platform == "darwin":
        folder = Path.home() / "Library/Application Support"
    else:
        folder = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local/share")
    return folder / "discscan" / "ledger.sqlite"


def _settle(connection: Any, _record: Any) -> None:
    """WAL lets others read during a write; FULL has every commit on disk, also when the power fails."""
    connection.isolation_level = None  # transactions begin where `_begin` says, not where the driver guesses
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
        connection.execute(f"PRAGMA {pragma}")


def _begin(connection: Connection) -> None:
    """A writer waits for its turn before it has read anything; readers wait for nobody."""
    writes = connection.get_execution_options().get("writes")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _row(one: Event) -> dict[str, Any]:
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
    }


def _event(row: Row[Any]) -> Event:
    day: date = row.day
    return Event(
        number=row.number, key=row.key, item=row.item, kind=row.kind, day=day, title=row.title,
        amount=_amount(row.amount_cents), fees=_amount(row.fees_cents), source=row.source, note=row.note,
        good=None if row.good is None else bool(row.good), undoes=row.undoes, document=row.document,
    )  # fmt: skip


def _cents(amount: Decimal | None) -> int | None:
    return None if amount is None else int(amount / CENT)


def _amount(count: int | None) -> Decimal | None:
    return None if count is None else count * CENT
