"""The book: SQLite in a file, or PostgreSQL; append-only. All SQL of the package is in this file and `tables.py`."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, insert, inspect, make_url, select
from sqlalchemy.exc import DatabaseError, IntegrityError

from discscan.errors import UnusableBook
from discscan.events import Event
from discscan.ledger.tables import STEPS, event_of, events, row_of, steps
from discscan.places import Place, shown

WRITERS_TURN = 7_354_211
"""Of PostgreSQL's advisory locks, the one that a writer holds: any number, the same in every version."""


class Book:
    """An open book. One write is one transaction, on disk before `append` returns.

    Raises:
        UnusableBook: the book cannot be opened, is none, is damaged, or is of a later version.
    """

    def __init__(self, place: Place) -> None:
        self.place = place
        self._engine = _engine(place)
        event.listen(self._engine, "connect", SETTLE[self._engine.dialect.name])
        event.listen(self._engine, "begin", _begin)
        self._writing = self._engine.execution_options(writes=True)
        self._bring_up_to_date()

    def append(self, new: Iterable[Event]) -> list[Event]:
        """Write events, all or none, and return them with their numbers.

        Raises:
            UnusableBook: the disk is full, the book is damaged, or another program has undone the same event.
        """
        return self._write(lambda _: new)

    def add(self, make: Callable[[list[Event]], Iterable[Event]]) -> list[Event]:
        """Write what `make` makes of all events so far; nobody else writes between this reading and this writing.

        Raises:
            UnusableBook: as `append`; and whatever `make` raises, nothing being written then.
        """
        return self._write(lambda connection: make(_all(connection)))

    def _write(self, make: Callable[[Connection], Iterable[Event]]) -> list[Event]:
        written = []
        try:
            with self._writing.begin() as connection:
                for one in make(connection):
                    key = connection.execute(insert(events).values(row_of(one))).inserted_primary_key
                    assert key is not None
                    written.append(replace(one, number=key[0]))
        except IntegrityError as error:
            raise UnusableBook(
                "Such an event is in the book already, or was undone before.",
                file=shown(self.place),
                remedy="Look at `discscan ledger show`.",
            ) from error
        except DatabaseError as error:
            raise self._unusable(error) from error
        return written

    def events(self) -> list[Event]:
        """All events in the order in which they were written, undone ones and undoings among them."""
        try:
            with self._engine.connect() as connection:
                return _all(connection)
        except DatabaseError as error:
            raise self._unusable(error) from error

    def back_up(self, place: Path) -> None:
        """Copy the book into a file that opens as a book, also while others write to it.

        It holds what was written when the copying began: all is read by one statement.

        Raises:
            UnusableBook: the copy cannot be written, or there is something already.
        """
        if place.exists():
            raise UnusableBook("There is a file already.", file=str(place), remedy="Name a new one.")
        begun = place.with_name(f"{place.name}.new")
        begun.unlink(missing_ok=True)
        copy = Book(begun)
        copy._take_over(self.events())
        copy.close()
        begun.replace(place)

    def close(self) -> None:
        self._engine.dispose()

    def _take_over(self, those: Iterable[Event]) -> None:
        """Write events under the numbers that they have in another book."""
        rows = [{"number": one.number, **row_of(one)} for one in those]
        try:
            with self._writing.begin() as connection:
                for row in rows:
                    connection.execute(insert(events).values(row))
        except DatabaseError as error:
            raise self._unusable(error) from error

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
        return UnusableBook(what, file=shown(self.place), remedy="Name another book with --book, or update discscan.")

    def _unusable(self, error: DatabaseError) -> UnusableBook:
        said = str(error.orig).splitlines()[0]
        return UnusableBook(
            f"The book cannot be used: {said}.",
            file=shown(self.place),
            remedy="Check that it is a book of discscan and may be written, or go back to a backup.",
        )


def _all(connection: Connection) -> list[Event]:
    return [event_of(row) for row in connection.execute(select(events).order_by(events.c.number))]


def _engine(place: Place) -> Engine:
    if not isinstance(place, Path):
        try:
            return create_engine(make_url(place).set(drivername="postgresql+psycopg"))
        except ModuleNotFoundError as error:
            raise UnusableBook(
                "Python's driver for PostgreSQL is not installed.",
                file=shown(place),
                remedy="Install it with: .venv/bin/python -m pip install '.[postgres]'.",
            ) from error
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UnusableBook(
            f"It cannot be made: {error.strerror}.", file=str(place), remedy="Name another place with --book."
        ) from error
    return create_engine(f"sqlite:///{place}", connect_args={"timeout": 30})


def _settle_file(connection: Any, _record: Any) -> None:
    """WAL lets others read during a write; FULL has every commit on disk, also when the power fails."""
    connection.isolation_level = None  # transactions begin where `_begin` says, not where the driver guesses
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
        connection.execute(f"PRAGMA {pragma}")


def _settle_server(connection: Any, _record: Any) -> None:
    """Every commit is on disk, also where somebody has told the server that it need not be."""
    connection.execute("SET synchronous_commit = on")
    connection.commit()


SETTLE = {"sqlite": _settle_file, "postgresql": _settle_server}


def _begin(connection: Connection) -> None:
    """A writer waits for its turn before it has read anything; readers wait for nobody."""
    writes = connection.get_execution_options().get("writes")
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
    elif writes:
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITERS_TURN})")
